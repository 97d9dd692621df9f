// SPDX-License-Identifier: GPL-3.0-or-later
#include "slowmatch/confine.h"

#include <assert.h>
#include <errno.h>
#include <fcntl.h>
#include <linux/audit.h>
#include <linux/filter.h>
#include <linux/seccomp.h>
#include <stddef.h>
#include <stdint.h>
#include <sys/prctl.h>
#include <sys/socket.h>
#include <sys/syscall.h>

#if defined __has_feature
#if __has_feature(address_sanitizer) || __has_feature(thread_sanitizer)
#define WATCHED 1
#endif
#elif defined __SANITIZE_ADDRESS__ || defined __SANITIZE_THREAD__
#define WATCHED 1
#endif

// What a sanitizer asks of the system at its own is not known.
#if defined WATCHED
#elif defined __x86_64__
#define MACHINE AUDIT_ARCH_X86_64
#elif defined __aarch64__
#define MACHINE AUDIT_ARCH_AARCH64
#endif

#ifdef MACHINE
enum { INSTRUCTIONS_MAX = 256 };

typedef struct program {
    struct sock_filter at[INSTRUCTIONS_MAX];
    unsigned short length;
} program;

// Numbers of calls; two machines differ in which old ones they have.
static const int never[] = {
    SYS_execve,
    SYS_execveat,
    SYS_ptrace,
    SYS_process_vm_readv,
    SYS_process_vm_writev,
    SYS_mount,
    SYS_umount2,
    SYS_pivot_root,
    SYS_chroot,
    SYS_setns,
    SYS_unshare,
    SYS_init_module,
    SYS_finit_module,
    SYS_delete_module,
    SYS_kexec_load,
    SYS_bpf,
    SYS_perf_event_open,
    SYS_keyctl,
    SYS_add_key,
    SYS_request_key,
    SYS_reboot,
    SYS_swapon,
    SYS_swapoff,
    SYS_settimeofday,
    SYS_clock_settime,
    SYS_acct,
    SYS_quotactl,
    SYS_userfaultfd,
    SYS_open_by_handle_at,
    SYS_sethostname,
    SYS_setdomainname,
};

static const int reads_and_sends[] = {
    SYS_read,
    SYS_pread64,
    SYS_readv,
    SYS_close,
    SYS_lseek,
    SYS_fstat,
    SYS_newfstatat,
    SYS_statx,
    SYS_getdents64,
    SYS_faccessat,
    SYS_readlinkat,
    SYS_fcntl,
    SYS_ioctl,
    SYS_ppoll,
    SYS_recvfrom,
    SYS_recvmsg,
    SYS_sendto,
    SYS_sendmsg,
    SYS_bind,
    SYS_connect,
    SYS_setsockopt,
    SYS_getsockopt,
    SYS_getsockname,
    SYS_mmap,
    SYS_munmap,
    SYS_mremap,
    SYS_mprotect,
    SYS_madvise,
    SYS_brk,
    SYS_futex,
    SYS_clone,
    SYS_clone3,
    SYS_set_robust_list,
    SYS_rseq,
    SYS_sched_getaffinity,
    SYS_sched_yield,
    SYS_sysinfo,
    SYS_rt_sigaction,
    SYS_rt_sigprocmask,
    SYS_rt_sigreturn,
    SYS_restart_syscall,
    SYS_clock_gettime,
    SYS_clock_nanosleep,
    SYS_nanosleep,
    SYS_gettimeofday,
    SYS_getrandom,
    SYS_getpid,
    SYS_getppid,
    SYS_gettid,
    SYS_getuid,
    SYS_geteuid,
    SYS_tgkill,
    SYS_exit,
    SYS_exit_group,
#ifdef SYS_poll
    SYS_poll,
    SYS_stat,
    SYS_lstat,
    SYS_access,
    SYS_readlink,
    SYS_time,
#endif
};

static void put(program *p, unsigned short code, unsigned operand, unsigned char yes, unsigned char no) {
    assert(p->length < INSTRUCTIONS_MAX);
    p->at[p->length++] = (struct sock_filter){.code = code, .k = operand, .jt = yes, .jf = no};
}

static void put_load(program *p, size_t offset) {
    put(p, BPF_LD | BPF_W | BPF_ABS, (unsigned)offset, 0, 0);
}

static void put_end(program *p, unsigned what) {
    put(p, BPF_RET | BPF_K, what, 0, 0);
}

static void put_calls(program *p, const int *calls, size_t count, unsigned what) {
    for (size_t i = 0; i < count; i++) {
        put(p, BPF_JMP | BPF_JEQ | BPF_K, (unsigned)calls[i], 0, 1);
        put_end(p, what);
    }
}

// The low half of argument N: flags and families are ints (both machines are little-endian).
static size_t argument(unsigned n) {
    return offsetof(struct seccomp_data, args) + n * sizeof(uint64_t);
}

// CALL opens a file by the flags in its argument N: not to write.
static void put_open(program *p, int call, unsigned n) {
    put(p, BPF_JMP | BPF_JEQ | BPF_K, (unsigned)call, 0, 4);
    put_load(p, argument(n));
    put(p, BPF_JMP | BPF_JSET | BPF_K, O_WRONLY | O_RDWR | O_CREAT | O_TRUNC, 0, 1);
    put_end(p, SECCOMP_RET_ERRNO | EPERM);
    put_end(p, SECCOMP_RET_ALLOW);
}

static void put_socket(program *p) {
    put(p, BPF_JMP | BPF_JEQ | BPF_K, SYS_socket, 0, 4);
    put_load(p, argument(0));
    put(p, BPF_JMP | BPF_JEQ | BPF_K, AF_INET, 1, 0);
    put_end(p, SECCOMP_RET_ERRNO | EPERM);
    put_end(p, SECCOMP_RET_ALLOW);
}

// Calls of another machine's numbering (x32 has a bit of its own) are none that it knows.
static void put_machine(program *p) {
    put_load(p, offsetof(struct seccomp_data, arch));
    put(p, BPF_JMP | BPF_JEQ | BPF_K, MACHINE, 1, 0);
    put_end(p, SECCOMP_RET_ERRNO | ENOSYS);
    put_load(p, offsetof(struct seccomp_data, nr));
    put(p, BPF_JMP | BPF_JGE | BPF_K, 0x40000000, 0, 1);
    put_end(p, SECCOMP_RET_ERRNO | ENOSYS);
}

static void make(program *p, sm_confinement how) {
    put_machine(p);
    put_calls(p, never, sizeof never / sizeof *never, SECCOMP_RET_ERRNO | EPERM);
    if (how == SM_CONFINE_READS_AND_SENDS) {
        put_calls(p, reads_and_sends, sizeof reads_and_sends / sizeof *reads_and_sends, SECCOMP_RET_ALLOW);
        put_open(p, SYS_openat, 2);
#ifdef SYS_open
        put_open(p, SYS_open, 1);
#endif
        put_socket(p);
        put_end(p, SECCOMP_RET_ERRNO | ENOSYS);
    }
    put_end(p, SECCOMP_RET_ALLOW);
}
#endif

bool sm_confine(sm_confinement how) {
    const bool gains_nothing = prctl(PR_SET_NO_NEW_PRIVS, 1, 0, 0, 0) == 0;
#ifdef MACHINE
    program p = {.length = 0};
    make(&p, how);
    const struct sock_fprog filter = {.len = p.length, .filter = p.at};
    return gains_nothing && prctl(PR_SET_SECCOMP, SECCOMP_MODE_FILTER, &filter, 0, 0) == 0;
#else
    (void)how;
    (void)gains_nothing;
    return false;
#endif
}
