//! A cage for the threads that take a stranger's clip apart.
//!
//! A clip that found a hole in a decoder and runs code of its own there can
//! compute, and write into the folder for temporary files, where readings go;
//! it can open no other file, no connection and no program. Linux alone: Landlock
//! (files, TCP) and seccomp (sockets, programs, other processes) hold for the
//! thread that asks and the ones it begins; nothing else of the process changes.
//! Where the kernel has neither, there is no cage. Sources: the Linux manual
//! pages landlock(7) and seccomp(2).

/// Does `work` on a thread of its own that is shut in.
pub(super) fn shut_in<T: Send>(work: impl FnOnce() -> T + Send) -> T {
    let ended = std::thread::scope(|scope| {
        let caged = scope.spawn(|| {
            enter();
            work()
        });
        caged.join()
    });
    ended.unwrap_or_else(|panic| std::panic::resume_unwind(panic))
}

/// Shuts this thread in, as far as the kernel can.
pub(super) fn enter() {
    #[cfg(target_os = "linux")]
    {
        // What the kernel cannot do is left undone: there is no safer way to
        // decode than the one that there is.
        let _ = linux::files();
        let _ = linux::calls();
    }
}

#[cfg(target_os = "linux")]
mod linux {
    use std::error::Error;

    use landlock::{
        ABI, Access, AccessFs, AccessNet, PathBeneath, PathFd, Ruleset, RulesetAttr,
        RulesetCreatedAttr,
    };
    use seccompiler::{BpfProgram, SeccompAction, SeccompFilter};

    type Done = Result<(), Box<dyn Error>>;

    /// Calls that no decoder needs.
    const REFUSED: [i64; 24] = [
        libc::SYS_socket,
        libc::SYS_socketpair,
        libc::SYS_connect,
        libc::SYS_bind,
        libc::SYS_listen,
        libc::SYS_accept4,
        libc::SYS_sendto,
        libc::SYS_sendmsg,
        libc::SYS_execve,
        libc::SYS_execveat,
        libc::SYS_ptrace,
        libc::SYS_process_vm_readv,
        libc::SYS_process_vm_writev,
        libc::SYS_pidfd_getfd,
        libc::SYS_kill,
        libc::SYS_open_by_handle_at,
        libc::SYS_bpf,
        libc::SYS_perf_event_open,
        libc::SYS_userfaultfd,
        libc::SYS_io_uring_setup,
        libc::SYS_unshare,
        libc::SYS_setns,
        libc::SYS_mount,
        libc::SYS_add_key,
    ];

    /// Files that were open before stay open; new ones only in the folder for
    /// temporary files.
    pub fn files() -> Done {
        let abi = ABI::V4;
        let own = AccessFs::MakeReg
            | AccessFs::ReadFile
            | AccessFs::WriteFile
            | AccessFs::RemoveFile
            | AccessFs::Truncate;
        let mut rules = Ruleset::default()
            .handle_access(AccessFs::from_all(abi))?
            .handle_access(AccessNet::from_all(abi))?
            .create()?;
        if let Ok(temporary) = PathFd::new(std::env::temp_dir()) {
            rules = rules.add_rule(PathBeneath::new(temporary, own))?;
        }
        rules.restrict_self()?;
        Ok(())
    }

    pub fn calls() -> Done {
        let rules = REFUSED.iter().map(|call| (*call, Vec::new())).collect();
        let refuse = SeccompAction::Errno(libc::EPERM.unsigned_abs());
        let arch = std::env::consts::ARCH.try_into()?;
        let filter = SeccompFilter::new(rules, SeccompAction::Allow, refuse, arch)?;
        let program: BpfProgram = filter.try_into()?;
        seccompiler::apply_filter(&program)?;
        Ok(())
    }
}
