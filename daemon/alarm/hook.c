/* Runs the plan's command for each notice, one at a time, in a thread of its own: it can be
 * slow or stuck without anything else waiting. Owns the child process. Never goes through a
 * shell and hands on nothing but the notice. */
#define _GNU_SOURCE /* pidfd_open, posix_spawn_file_actions_addclosefrom_np */
#include "trivet/hook.h"

#include <errno.h>
#include <fcntl.h>
#include <poll.h>
#include <pthread.h>
#include <signal.h>
#include <spawn.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/pidfd.h>
#include <sys/wait.h>
#include <unistd.h>

#define JOBS_MAX      64
#define JSON_MAX      2048
#define KILL_AFTER_MS 2000 /* between asking the command to end and ending it */

extern char **environ;

struct job {
    const struct plan_hook *config;
    uint64_t seq;
    char json[JSON_MAX];
};

struct hook {
    struct queue *queue;
    struct clock clock;
    pthread_t thread;
    pthread_mutex_t lock;
    pthread_cond_t changed;
    bool stop;
    size_t first, count;
    struct job jobs[JOBS_MAX];
};

struct outcome {
    bool done;
    char how[120];
};

/* ---- the child ---- */

static int
spawn(const struct plan_hook *config, int stdin_fd, pid_t *ret_pid)
{
    posix_spawn_file_actions_t actions;
    posix_spawnattr_t attr;
    sigset_t none, all;
    (void)sigemptyset(&none);
    (void)sigfillset(&all);
    (void)posix_spawn_file_actions_init(&actions);
    (void)posix_spawnattr_init(&attr);
    (void)posix_spawn_file_actions_adddup2(&actions, stdin_fd, STDIN_FILENO);
    (void)posix_spawn_file_actions_addopen(&actions, STDOUT_FILENO, "/dev/null", O_WRONLY, 0);
    /* Devices and sockets of the daemon are none of the command's business. */
    (void)posix_spawn_file_actions_addclosefrom_np(&actions, STDERR_FILENO + 1);
    (void)posix_spawnattr_setpgroup(&attr, 0);
    (void)posix_spawnattr_setsigmask(&attr, &none);
    (void)posix_spawnattr_setsigdefault(&attr, &all);
    (void)posix_spawnattr_setflags(&attr, POSIX_SPAWN_SETPGROUP | POSIX_SPAWN_SETSIGMASK |
                                              POSIX_SPAWN_SETSIGDEF);
    int error = posix_spawnp(ret_pid, config->args[0], &actions, &attr,
                             (char *const *)(const void *)config->args, environ);
    (void)posix_spawnattr_destroy(&attr);
    (void)posix_spawn_file_actions_destroy(&actions);
    return error;
}

/* Writes the notice while the child reads it; a child that does not read is no error. */
static void
feed_child(struct pollfd *in, const char *json, size_t len, size_t *written)
{
    ssize_t n = write(in->fd, json + *written, len - *written);
    if (n > 0)
        *written += (size_t)n;
    if ((n < 0 && errno != EAGAIN && errno != EINTR) || *written == len) {
        (void)close(in->fd);
        in->fd = -1;
    }
}

/* Waits for the child's end at most until the time is up. True when it ended. */
static bool
await_child(const struct hook *hook, int pid_fd, int in_fd, const char *json, int64_t until_ms)
{
    size_t len = strlen(json);
    size_t written = 0;
    struct pollfd fds[2] = {{.fd = pid_fd, .events = POLLIN}, {.fd = in_fd, .events = POLLOUT}};
    for (;;) {
        int64_t left_ms = until_ms - clock_mono_ms(&hook->clock);
        if (left_ms <= 0)
            break;
        int ready = poll(fds, 2, (int)(left_ms > 60000 ? 60000 : left_ms));
        if (ready < 0 && errno != EINTR)
            break;
        if (ready > 0 && fds[1].fd >= 0 && fds[1].revents != 0)
            feed_child(&fds[1], json, len, &written);
        if (ready > 0 && (fds[0].revents & POLLIN))
            break;
    }
    if (fds[1].fd >= 0)
        (void)close(fds[1].fd);
    return (fds[0].revents & POLLIN) != 0;
}

static void
say_end(int status, struct outcome *ret)
{
    ret->done = WIFEXITED(status) && WEXITSTATUS(status) == 0;
    if (ret->done)
        (void)snprintf(ret->how, sizeof ret->how, "ended well");
    else if (WIFEXITED(status))
        (void)snprintf(ret->how, sizeof ret->how, "ended with exit code %d",
                       WEXITSTATUS(status));
    else
        (void)snprintf(ret->how, sizeof ret->how, "was ended by signal %d", WTERMSIG(status));
}

static void
end_child(pid_t pid, int pid_fd, struct outcome *ret)
{
    (void)kill(-pid, SIGTERM);
    struct pollfd gone = {.fd = pid_fd, .events = POLLIN};
    if (poll(&gone, 1, KILL_AFTER_MS) <= 0)
        (void)kill(-pid, SIGKILL);
    ret->done = false;
    (void)snprintf(ret->how, sizeof ret->how, "did not end in time and was stopped");
}

static void
run_job(const struct hook *hook, const struct job *job, struct outcome *ret)
{
    int pipe_fds[2];
    pid_t pid;
    if (pipe2(pipe_fds, O_CLOEXEC) != 0) {
        *ret = (struct outcome){.how = "no pipe could be made: too many open files"};
        return;
    }
    (void)fcntl(pipe_fds[1], F_SETFL, O_NONBLOCK);
    int error = spawn(job->config, pipe_fds[0], &pid);
    (void)close(pipe_fds[0]);
    if (error != 0) {
        (void)close(pipe_fds[1]);
        ret->done = false;
        (void)snprintf(ret->how, sizeof ret->how, "could not be started: %s",
                       error == ENOENT   ? "no such program"
                       : error == EACCES ? "not allowed to run it"
                                         : "system error");
        return;
    }
    int64_t until_ms = clock_mono_ms(&hook->clock) + job->config->timeout_ms;
    int pid_fd = pidfd_open(pid, 0);
    int status = 0;
    bool ended = await_child(hook, pid_fd, pipe_fds[1], job->json, until_ms);
    if (!ended)
        end_child(pid, pid_fd, ret);
    while (waitpid(pid, &status, 0) < 0 && errno == EINTR)
        continue;
    if (ended)
        say_end(status, ret);
    if (pid_fd >= 0)
        (void)close(pid_fd);
}

/* ---- the thread ---- */

static void
report(const struct hook *hook, uint64_t seq, const struct outcome *outcome)
{
    if (seq == 0)
        return; /* told while storage was away: there is no record to refer to */
    struct message message = {
        .kind = MESSAGE_TOLD,
        .born_ms = clock_mono_ms(&hook->clock),
        .is.told = {.seq = seq, .done = outcome->done},
    };
    memcpy(message.is.told.how, outcome->how, sizeof message.is.told.how);
    /* When the queue is full the notice stays "running" until the next start tells it again: at
     * least once. */
    (void)queue_post(hook->queue, &message);
}

static void *
work(void *arg)
{
    struct hook *hook = arg;
    /* A command that does not read its input must not end the daemon by SIGPIPE; no other
     * signal is this thread's business either. */
    sigset_t all;
    (void)sigfillset(&all);
    (void)pthread_sigmask(SIG_SETMASK, &all, NULL);
    (void)pthread_mutex_lock(&hook->lock);
    for (;;) {
        while (hook->count == 0 && !hook->stop)
            (void)pthread_cond_wait(&hook->changed, &hook->lock);
        if (hook->stop)
            break;
        struct job job = hook->jobs[hook->first];
        hook->first = (hook->first + 1) % JOBS_MAX;
        hook->count--;
        (void)pthread_mutex_unlock(&hook->lock);
        struct outcome outcome = {.done = false};
        run_job(hook, &job, &outcome);
        report(hook, job.seq, &outcome);
        (void)pthread_mutex_lock(&hook->lock);
    }
    (void)pthread_mutex_unlock(&hook->lock);
    return NULL;
}

struct hook *
hook_start(struct queue *queue, const struct clock *clock)
{
    struct hook *hook = calloc(1, sizeof *hook);
    if (hook == NULL)
        return NULL;
    hook->queue = queue;
    hook->clock = *clock;
    (void)pthread_mutex_init(&hook->lock, NULL);
    (void)pthread_cond_init(&hook->changed, NULL);
    if (pthread_create(&hook->thread, NULL, work, hook) != 0) {
        free(hook);
        return NULL;
    }
    return hook;
}

bool
hook_tell(struct hook *hook, const struct plan_hook *config, uint64_t seq, const char *json)
{
    bool fits = false;
    (void)pthread_mutex_lock(&hook->lock);
    if (hook->count < JOBS_MAX && strlen(json) < JSON_MAX) {
        struct job *job = &hook->jobs[(hook->first + hook->count) % JOBS_MAX];
        job->config = config;
        job->seq = seq;
        memcpy(job->json, json, strlen(json) + 1);
        hook->count++;
        fits = true;
        (void)pthread_cond_signal(&hook->changed);
    }
    (void)pthread_mutex_unlock(&hook->lock);
    return fits;
}

void
hook_stop(struct hook *hook)
{
    if (hook == NULL)
        return;
    (void)pthread_mutex_lock(&hook->lock);
    hook->stop = true;
    (void)pthread_cond_signal(&hook->changed);
    (void)pthread_mutex_unlock(&hook->lock);
    (void)pthread_join(hook->thread, NULL);
    (void)pthread_cond_destroy(&hook->changed);
    (void)pthread_mutex_destroy(&hook->lock);
    free(hook);
}
