use super::*;

const LAT20_US: [u64; 20] = [
    137_500, 141_667, 145_833, 145_833, 150_000, 154_167, 158_333, 166_667, 170_833, 179_167,
    183_333, 191_667, 204_167, 216_667, 229_167, 250_000, 287_500, 341_667, 458_333, 1_233_333,
];
const LAT20_TEXT: &str = "HISTFAAAAEh4nJNpmSzMwMBgyAABzFCaEcyZ3M5g/wEi8LiBkcmWyZ4FiIF0I4hTD2TWMx1kZNrPCCIPMzE1MjMtZmbqZWd6KcYEAAhHDks=";

/// Payload written by Python hdrhistogram 0.10.8 (confirmed by running it, and
/// read alike by hdr-histogram-js 3.0.1).
#[test]
fn reads_a_payload_of_another_writer() {
    let read = LatencyHistogram::from_text(LAT20_TEXT).unwrap();
    let tops: Vec<_> = read.buckets().iter().map(|b| (b.1, b.2)).collect();
    let want = [
        (137_599, 1),
        (141_695, 1),
        (145_919, 2),
        (150_015, 1),
        (154_239, 1),
        (158_335, 1),
        (166_783, 1),
        (170_879, 1),
        (179_199, 1),
        (183_423, 1),
        (191_743, 1),
        (204_287, 1),
        (216_703, 1),
        (229_247, 1),
        (250_111, 1),
        (287_743, 1),
        (341_759, 1),
        (458_495, 1),
        (1_233_919, 1),
    ];
    assert_eq!(tops, want);
    assert_eq!(read.len(), 20);
    assert!((read.counts.mean() - 257_305.6).abs() < 1e-6);
    assert_eq!(read.counts.value_at_quantile(0.5), 179_199);
    assert_eq!(read.counts.value_at_quantile(0.95), 458_495);
}

/// Further payloads of Python hdrhistogram 0.10.8 (confirmed by running it),
/// with other ranges and digits: text, count, first and last bucket's top, mean.
#[test]
fn reads_payloads_of_other_ranges() {
    let rows = [
        (
            "HISTFAAAACl4nJNpmSzMwMD4mwECmKA0I5g0e9dg/wEqwDSyAcsAA44BA0wA3k4M6g==",
            1000,
            1,
            1003,
            500.874,
        ),
        (
            "HISTFAAAADJ4nJNpmSzMwMAAwiDADKUZQcS1yUsY7D9ABdj42TYysrXysX00ZntrwtZtxgYA0V4JHw==",
            21,
            1,
            1_000_447,
            158_758.142_857,
        ),
        (
            "HISTFAAAACp4nJNpmSzMwMDAwwABzFCaEUK9SrD/AGE5MsmzyLPJssgzyTMBAH0LBL4=",
            10,
            33,
            117,
            71.7,
        ),
    ];
    for (text, count, first, last, mean) in rows {
        let read = LatencyHistogram::from_text(text).unwrap();
        let buckets = read.buckets();
        assert_eq!(read.len(), count);
        assert_eq!((buckets[0].1, buckets[buckets.len() - 1].1), (first, last));
        assert!((read.counts.mean() - mean).abs() < 1e-6);
    }
}

/// The compressed bytes differ between writers, the counts must not.
#[test]
fn our_payload_holds_the_same_counts() {
    let ms = LAT20_US.map(|us| us as f64 / 1000.0);
    let ours = LatencyHistogram::of_ms(&ms).unwrap();
    let theirs = LatencyHistogram::from_text(LAT20_TEXT).unwrap();
    assert_eq!(ours.counts, theirs.counts);
    let text = ours.to_text().unwrap();
    assert!(text.starts_with("HISTFAAA"));
    assert_eq!(
        text,
        LatencyHistogram::of_ms(&ms).unwrap().to_text().unwrap()
    );
    assert_eq!(
        LatencyHistogram::from_text(&text).unwrap().counts,
        ours.counts
    );
}

/// A payload of hdr-histogram-js 3.0.1 whose header the crate does not know.
#[test]
fn an_unreadable_payload_is_an_error_in_words() {
    let foreign = "HISTFAAAAFB4nJNpmSzMwMBgyMDAwMjAwMDMAAEgNgPz5HYGGP9xAyOTLZM9iy2TPZMtUyOIU89kz1TPdJCRaT8jiDzMxNTIzLSYmamXnemlGBMAxjENHg==";
    for bad in [foreign, "HISTFAAA", "not base64!", ""] {
        let error = LatencyHistogram::from_text(bad).unwrap_err().to_string();
        assert!(
            error.contains("histogram") || error.contains("HdrHistogram"),
            "{error}"
        );
    }
}

#[test]
fn the_ends_of_the_range_hold() {
    let read = LatencyHistogram::of_ms(&[0.0, 60_000.0, 1e12]).unwrap();
    assert_eq!(read.len(), 3);
    assert_eq!(read.buckets()[0], (0, 0, 1));
    let empty = LatencyHistogram::of_ms(&[]).unwrap();
    let read = LatencyHistogram::from_text(&empty.to_text().unwrap()).unwrap();
    assert_eq!(read.len(), 0);
}

#[test]
fn bins_have_round_edges_and_lose_nothing() {
    let a = LatencyHistogram::of_ms(&[214.0, 260.0, 322.0]).unwrap();
    let b = LatencyHistogram::of_ms(&[180.0, 611.0]).unwrap();
    let scale = Scale::common(&[&a, &b], 12).unwrap();
    assert_eq!(
        (scale.start_ms, scale.step_ms, scale.bins),
        (150.0, 50.0, 10)
    );
    assert_eq!(scale.counts(&a), [0, 1, 1, 1, 0, 0, 0, 0, 0, 0]);
    assert_eq!(scale.counts(&b).iter().sum::<u64>(), 2);
    assert_eq!(Scale::common(&[], 12), None);
    // The same edges from 0 on.
    let whole = scale.starting_at_zero(125);
    assert_eq!((whole.start_ms, whole.step_ms, whole.bins), (0.0, 50.0, 13));
    assert_eq!(whole.counts(&a)[3..], scale.counts(&a)[..]);
    // Far from 0 they would be too many, so they are coarser.
    let late = LatencyHistogram::of_ms(&[9000.0, 9004.0]).unwrap();
    let late = Scale::common(&[&late], 12).unwrap();
    assert_eq!(late.step_ms, 1.0);
    let whole = late.starting_at_zero(125);
    assert_eq!((whole.step_ms, whole.bins), (100.0, 91));
}

proptest::proptest! {
    #[test]
    fn bins_lose_nothing(
        a in proptest::collection::vec(0.0f64..60_000.0, 0..40),
        b in proptest::collection::vec(0.0f64..60_000.0, 0..40),
        most in 2usize..30,
    ) {
        let other = LatencyHistogram::of_ms(&b).unwrap();
        let together = LatencyHistogram::of_ms(&[a, b].concat()).unwrap();
        if let Some(scale) = Scale::common(&[&together, &other], most) {
            proptest::prop_assert!(scale.bins <= most);
            proptest::prop_assert_eq!(scale.counts(&together).iter().sum::<u64>(), together.len());
        } else {
            proptest::prop_assert_eq!(together.len(), 0);
        }
    }
}
