/* The control socket from outside, with a recorder of the test's own that takes from the real
 * queue. Nothing here sleeps: every wait is for bytes, for an end of stream or for the recorder
 * to have an entry in hand. */
#define _GNU_SOURCE /* setgroups */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <errno.h>
#include <grp.h>
#include <pthread.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <sys/stat.h>
#include <sys/time.h>
#include <sys/un.h>
#include <sys/wait.h>
#include <unistd.h>

#include <cmocka.h>
#include <jansson.h>

#include "daemon/control/line.h"
#include "daemon/control/serve.h"

/* ---- the recorder of the test ---- */

#define HELD_MAX 8

/* Answers each entry at once, except those whose text is "hold": these wait until they are
 * released. */
struct fake_recorder {
    struct queue *queue;
    pthread_t thread;
    pthread_mutex_t lock;
    pthread_cond_t changed;
    struct entry_request *held[HELD_MAX];
    size_t held_count;
    uint64_t seq;
    int64_t last_uid;
};

static void
give_answer(struct fake_recorder *fake, struct entry_request *request)
{
    struct entry_answer answer = {.code = 200, .seq = ++fake->seq};
    (void)snprintf(answer.say, sizeof answer.say, "noted: %.300s", request->entry.text);
    request->answer(request->arg, &answer);
    free(request);
}

static void
take_entry(struct fake_recorder *fake, struct entry_request *request)
{
    (void)pthread_mutex_lock(&fake->lock);
    fake->last_uid = request->entry.peer_uid;
    if (strcmp(request->entry.text, "hold") == 0 && fake->held_count < HELD_MAX) {
        fake->held[fake->held_count++] = request;
        (void)pthread_cond_signal(&fake->changed);
    } else {
        give_answer(fake, request);
    }
    (void)pthread_mutex_unlock(&fake->lock);
}

static void *
fake_run(void *arg)
{
    struct fake_recorder *fake = arg;
    struct message messages[4];
    for (;;) {
        size_t count = queue_take(fake->queue, messages, 4, 1000);
        for (size_t i = 0; i < count; i++) {
            if (messages[i].kind == MESSAGE_STOP)
                return NULL;
            take_entry(fake, messages[i].is.entry);
        }
    }
}

static void
wait_for_held(struct fake_recorder *fake, size_t count)
{
    (void)pthread_mutex_lock(&fake->lock);
    while (fake->held_count < count)
        (void)pthread_cond_wait(&fake->changed, &fake->lock);
    (void)pthread_mutex_unlock(&fake->lock);
}

static void
release_held(struct fake_recorder *fake)
{
    (void)pthread_mutex_lock(&fake->lock);
    for (size_t i = 0; i < fake->held_count; i++)
        give_answer(fake, fake->held[i]);
    fake->held_count = 0;
    (void)pthread_mutex_unlock(&fake->lock);
}

/* ---- the rig ---- */

struct rig {
    char directory[64];
    char path[108];
    struct control_options options;
    struct board *board;
    struct queue *queue;
    struct fake_recorder fake;
    struct control *control;
};

static int64_t
no_time(void *arg)
{
    (void)arg;
    return 0;
}

static struct rig *
rig_new(size_t queue_size)
{
    struct rig *rig = calloc(1, sizeof *rig);
    assert_non_null(rig);
    (void)snprintf(rig->directory, sizeof rig->directory, "/tmp/trivet-control-XXXXXX");
    assert_non_null(mkdtemp(rig->directory));
    (void)snprintf(rig->path, sizeof rig->path, "%s/control", rig->directory);
    rig->options = (struct control_options){
        .path = rig->path, .directory = rig->directory, .page = "", .version = "test"};
    rig->board = board_new();
    assert_non_null(rig->board);
    board_set_now(rig->board, no_time, NULL);
    rig->queue = queue_new(queue_size);
    assert_non_null(rig->queue);
    rig->fake.queue = rig->queue;
    (void)pthread_mutex_init(&rig->fake.lock, NULL);
    (void)pthread_cond_init(&rig->fake.changed, NULL);
    return rig;
}

static void
rig_start(struct rig *rig, const struct control_bounds *bounds)
{
    assert_int_equal(pthread_create(&rig->fake.thread, NULL, fake_run, &rig->fake), 0);
    char wrong[400] = "";
    rig->control = control_start_bounded(&rig->options, bounds, rig->queue, rig->board, wrong,
                                         sizeof wrong);
    if (rig->control == NULL)
        fail_msg("%s", wrong);
}

/* Also releases what is held, after the control thread has gone: late answers must find
 * nothing. */
static void
rig_end(struct rig *rig)
{
    control_stop(rig->control);
    struct message stop = {.kind = MESSAGE_STOP};
    assert_true(queue_post(rig->queue, &stop));
    (void)pthread_join(rig->fake.thread, NULL);
    release_held(&rig->fake);
    (void)pthread_mutex_destroy(&rig->fake.lock);
    (void)pthread_cond_destroy(&rig->fake.changed);
    queue_free(rig->queue);
    board_free(rig->board);
    assert_int_equal(rmdir(rig->directory), 0); /* the socket is gone */
    free(rig);
}

static struct rig *
rig_usual(void)
{
    struct rig *rig = rig_new(100);
    rig_start(rig, &control_usual_bounds);
    return rig;
}

/* ---- a client ---- */

static int
dial(const struct rig *rig)
{
    int fd = socket(AF_UNIX, SOCK_STREAM | SOCK_CLOEXEC, 0);
    assert_true(fd >= 0);
    struct sockaddr_un address = {.sun_family = AF_UNIX};
    (void)snprintf(address.sun_path, sizeof address.sun_path, "%s", rig->path);
    assert_int_equal(connect(fd, (const struct sockaddr *)&address, sizeof address), 0);
    /* A server that hangs fails the test instead of hanging it. */
    struct timeval patience = {.tv_sec = 30};
    assert_int_equal(setsockopt(fd, SOL_SOCKET, SO_RCVTIMEO, &patience, sizeof patience), 0);
    return fd;
}

/* False at the end of the stream. */
static bool
hear(int fd, char *line, size_t size)
{
    size_t len = 0;
    while (len + 1 < size) {
        ssize_t got = recv(fd, line + len, 1, 0);
        if (got == 0 || (got < 0 && errno == ECONNRESET))
            return false;
        assert_int_equal(got, 1);
        if (line[len] == '\n')
            break;
        len++;
    }
    line[len] = '\0';
    return true;
}

static int
hear_code(int fd, char *ret_say, size_t size)
{
    char line[8192];
    assert_true(hear(fd, line, sizeof line));
    json_t *object = json_loads(line, JSON_REJECT_DUPLICATES, NULL);
    assert_non_null(object);
    int code = (int)json_integer_value(json_object_get(object, "code"));
    const char *say = json_string_value(json_object_get(object, "say"));
    assert_non_null(say);
    if (ret_say != NULL)
        (void)snprintf(ret_say, size, "%s", say);
    json_decref(object);
    return code;
}

static int
dial_greeted(const struct rig *rig)
{
    int fd = dial(rig);
    assert_int_equal(hear_code(fd, NULL, 0), 200);
    return fd;
}

static void
tell(int fd, const char *text)
{
    assert_int_equal(send(fd, text, strlen(text), MSG_NOSIGNAL), strlen(text));
}

static void
tell_note(int fd, const char *text)
{
    char line[400];
    (void)snprintf(line, sizeof line, "{\"do\":\"note\",\"who\":\"AB\",\"text\":\"%s\"}\n",
                   text);
    tell(fd, line);
}

static void
assert_noted(int fd, const char *text)
{
    char say[500], expected[500];
    assert_int_equal(hear_code(fd, say, sizeof say), 200);
    (void)snprintf(expected, sizeof expected, "noted: %s", text);
    assert_string_equal(say, expected);
}

static void
assert_ended(int fd)
{
    char line[8192];
    assert_false(hear(fd, line, sizeof line));
}

/* Somebody else gets an answer while the case at hand is as it is. */
static void
assert_others_are_served(const struct rig *rig)
{
    int fd = dial_greeted(rig);
    tell_note(fd, "other");
    assert_noted(fd, "other");
    (void)close(fd);
}

/* ---- conversation ---- */

static void
test_entries_on_one_connection_are_answered_in_order(void **state)
{
    (void)state;
    struct rig *rig = rig_usual();
    int fd = dial_greeted(rig);
    for (int i = 0; i < 50; i++) {
        char text[32];
        (void)snprintf(text, sizeof text, "note %d", i);
        tell_note(fd, text);
    }
    for (int i = 0; i < 50; i++) {
        char text[32];
        (void)snprintf(text, sizeof text, "note %d", i);
        assert_noted(fd, text);
    }
    (void)close(fd);
    rig_end(rig);
}

static void
test_entry_records_the_user_at_the_other_end(void **state)
{
    (void)state;
    struct rig *rig = rig_usual();
    int fd = dial_greeted(rig);
    tell_note(fd, "who am I");
    assert_noted(fd, "who am I");
    (void)pthread_mutex_lock(&rig->fake.lock);
    assert_int_equal(rig->fake.last_uid, getuid());
    (void)pthread_mutex_unlock(&rig->fake.lock);
    (void)close(fd);
    rig_end(rig);
}

static void
test_malformed_line_is_answered_and_the_connection_goes_on(void **state)
{
    (void)state;
    struct rig *rig = rig_usual();
    int fd = dial_greeted(rig);
    tell(fd, "what?\n{\"do\":\n\n\xff\xfe\n{\"do\":\"fly\"}\n");
    for (int i = 0; i < 5; i++)
        assert_int_equal(hear_code(fd, NULL, 0), 400);
    tell_note(fd, "still here");
    assert_noted(fd, "still here");
    (void)close(fd);
    rig_end(rig);
}

static void
test_questions_before_the_first_snapshot_are_answered(void **state)
{
    (void)state;
    struct rig *rig = rig_usual();
    int fd = dial_greeted(rig);
    tell(fd, "{\"do\":\"now\"}\n{\"do\":\"lists\"}\n{\"do\":\"where\"}\n");
    assert_int_equal(hear_code(fd, NULL, 0), 503);
    assert_int_equal(hear_code(fd, NULL, 0), 503);
    assert_int_equal(hear_code(fd, NULL, 0), 200);
    (void)close(fd);
    rig_end(rig);
}

static void
test_truncated_line_is_refused_and_not_recorded(void **state)
{
    (void)state;
    struct rig *rig = rig_usual();
    int fd = dial_greeted(rig);
    tell(fd, "{\"do\":\"note\",\"who\":\"AB\",\"text\":\"x\"}");
    assert_int_equal(shutdown(fd, SHUT_WR), 0);
    char say[500];
    assert_int_equal(hear_code(fd, say, sizeof say), 400);
    assert_non_null(strstr(say, "newline"));
    assert_ended(fd);
    (void)close(fd);
    assert_int_equal(rig->fake.seq, 0);
    rig_end(rig);
}

static void
test_client_that_has_said_all_still_gets_its_answers(void **state)
{
    (void)state;
    struct rig *rig = rig_usual();
    int fd = dial_greeted(rig);
    tell_note(fd, "one");
    tell_note(fd, "two");
    assert_int_equal(shutdown(fd, SHUT_WR), 0);
    assert_noted(fd, "one");
    assert_noted(fd, "two");
    assert_ended(fd);
    (void)close(fd);
    rig_end(rig);
}

/* ---- hostile and slow ---- */

static void
test_line_of_one_mebibyte_is_refused_and_the_connection_closed(void **state)
{
    (void)state;
    struct rig *rig = rig_usual();
    int fd = dial_greeted(rig);
    size_t size = 1 << 20;
    char *flood = malloc(size);
    assert_non_null(flood);
    memset(flood, 'a', size);
    size_t sent = 0;
    while (sent < size) {
        ssize_t part = send(fd, flood + sent, size - sent, MSG_NOSIGNAL);
        if (part <= 0)
            break; /* closed on us: as it should be */
        sent += (size_t)part;
    }
    free(flood);
    assert_int_equal(hear_code(fd, NULL, 0), 413);
    assert_ended(fd);
    (void)close(fd);
    assert_others_are_served(rig);
    rig_end(rig);
}

static void
test_slow_writer_delays_nobody(void **state)
{
    (void)state;
    struct rig *rig = rig_usual();
    int slow = dial_greeted(rig);
    const char line[] = "{\"do\":\"note\",\"who\":\"AB\",\"text\":\"drop by drop\"}\n";
    for (size_t i = 0; i + 1 < sizeof line; i++) {
        assert_int_equal(send(slow, line + i, 1, MSG_NOSIGNAL), 1);
        if (i % 8 == 0)
            assert_others_are_served(rig);
    }
    assert_noted(slow, "drop by drop");
    (void)close(slow);
    rig_end(rig);
}

/* Asks without ever reading, until neither side takes any more. */
static void
stop_up(int fd)
{
    const char line[] = "{\"do\":\"where\"}\n";
    size_t done = 0;
    struct timeval moment = {.tv_usec = 100000};
    assert_int_equal(setsockopt(fd, SOL_SOCKET, SO_SNDTIMEO, &moment, sizeof moment), 0);
    for (;;) {
        ssize_t sent = send(fd, line + done % (sizeof line - 1),
                            sizeof line - 1 - done % (sizeof line - 1), MSG_NOSIGNAL);
        if (sent <= 0)
            break;
        done += (size_t)sent;
    }
}

static void
test_slow_reader_delays_nobody(void **state)
{
    (void)state;
    struct rig *rig = rig_usual();
    int slow = dial_greeted(rig);
    stop_up(slow);
    assert_others_are_served(rig);
    /* And is itself served once it reads. */
    for (int i = 0; i < 100; i++)
        assert_int_equal(hear_code(slow, NULL, 0), 200);
    (void)close(slow);
    rig_end(rig);
}

static void
test_reader_that_never_reads_is_closed(void **state)
{
    (void)state;
    struct rig *rig = rig_new(100);
    struct control_bounds bounds = control_usual_bounds;
    bounds.write_ms = 50;
    rig_start(rig, &bounds);
    int slow = dial_greeted(rig);
    stop_up(slow);
    struct timeval patience = {.tv_sec = 30};
    assert_int_equal(setsockopt(slow, SOL_SOCKET, SO_SNDTIMEO, &patience, sizeof patience), 0);
    /* With the other side gone, sending fails at last. */
    while (send(slow, "x", 1, MSG_NOSIGNAL) == 1)
        ;
    assert_true(errno == EPIPE || errno == ECONNRESET);
    (void)close(slow);
    assert_others_are_served(rig);
    rig_end(rig);
}

static void
test_connection_gone_before_its_answer_harms_nothing(void **state)
{
    (void)state;
    struct rig *rig = rig_usual();
    for (size_t i = 0; i < 4; i++) {
        int fd = dial_greeted(rig);
        tell_note(fd, "hold");
        wait_for_held(&rig->fake, i + 1);
        (void)close(fd);
    }
    /* Their places are taken by others before the answers come. */
    int others[4];
    for (size_t i = 0; i < 4; i++)
        others[i] = dial_greeted(rig);
    release_held(&rig->fake);
    for (size_t i = 0; i < 4; i++) {
        tell_note(others[i], "mine");
        assert_noted(others[i], "mine");
        (void)close(others[i]);
    }
    rig_end(rig);
}

static void
test_stop_with_an_entry_still_out_harms_nothing(void **state)
{
    (void)state;
    struct rig *rig = rig_usual();
    int fd = dial_greeted(rig);
    tell_note(fd, "hold");
    wait_for_held(&rig->fake, 1);
    rig_end(rig); /* stops the control thread first, then releases the answer */
    assert_ended(fd);
    (void)close(fd);
}

/* ---- bounds ---- */

static void
test_entry_the_recorder_does_not_answer_is_said_to_be_unknown(void **state)
{
    (void)state;
    struct rig *rig = rig_new(100);
    struct control_bounds bounds = control_usual_bounds;
    bounds.answer_ms = 50;
    rig_start(rig, &bounds);
    int fd = dial_greeted(rig);
    tell_note(fd, "hold");
    char say[500];
    assert_int_equal(hear_code(fd, say, sizeof say), 504);
    assert_non_null(strstr(say, "not known whether"));
    assert_ended(fd);
    (void)close(fd);
    wait_for_held(&rig->fake, 1);
    release_held(&rig->fake);
    rig_end(rig);
}

static void
test_idle_connection_is_closed_with_a_word(void **state)
{
    (void)state;
    struct rig *rig = rig_new(100);
    struct control_bounds bounds = control_usual_bounds;
    bounds.idle_ms = 50;
    rig_start(rig, &bounds);
    int fd = dial_greeted(rig);
    tell(fd, "{\"do\":"); /* half a line is no reason to wait longer */
    assert_int_equal(hear_code(fd, NULL, 0), 408);
    assert_ended(fd);
    (void)close(fd);
    rig_end(rig);
}

static void
test_full_queue_is_told_and_nothing_is_recorded(void **state)
{
    (void)state;
    struct rig *rig = rig_new(2); /* one place, and the one kept for the stop */
    char wrong[400] = "";
    rig->control = control_start(&rig->options, rig->queue, rig->board, wrong, sizeof wrong);
    assert_non_null(rig->control);
    int first = dial_greeted(rig), second = dial_greeted(rig);
    tell_note(first, "waits");
    /* Which of the two comes first is decided by the answer to a question on the same thread.
     */
    tell(second, "{\"do\":\"where\"}\n");
    assert_int_equal(hear_code(second, NULL, 0), 200);
    tell_note(second, "too many");
    char say[500];
    assert_int_equal(hear_code(second, say, sizeof say), 503);
    assert_non_null(strstr(say, "not recorded"));
    assert_int_equal(pthread_create(&rig->fake.thread, NULL, fake_run, &rig->fake), 0);
    assert_noted(first, "waits");
    (void)close(first);
    (void)close(second);
    rig_end(rig);
}

static void
test_one_connection_too_many_is_told_busy(void **state)
{
    (void)state;
    struct rig *rig = rig_usual();
    int fds[CONTROL_CONNECTIONS_MAX];
    for (size_t i = 0; i < CONTROL_CONNECTIONS_MAX; i++)
        fds[i] = dial_greeted(rig);
    for (int i = 0; i < 10; i++) {
        int extra = dial(rig);
        char say[500];
        assert_int_equal(hear_code(extra, say, sizeof say), 503);
        assert_non_null(strstr(say, "busy"));
        assert_ended(extra);
        (void)close(extra);
    }
    for (size_t i = 0; i < CONTROL_CONNECTIONS_MAX; i++) {
        tell_note(fds[i], "here");
        assert_noted(fds[i], "here");
        (void)shutdown(fds[i], SHUT_WR);
        assert_ended(fds[i]);
        (void)close(fds[i]);
    }
    assert_others_are_served(rig);
    rig_end(rig);
}

static void
test_ten_thousand_connections_leave_it_serving(void **state)
{
    (void)state;
    struct rig *rig = rig_usual();
    for (int i = 0; i < 10000; i++) {
        int fd = dial(rig);
        if (i % 3 == 0)
            tell(fd, "{\"do\"");
        (void)close(fd);
    }
    /* Those still in its list are found gone one by one; until then "busy" is the right answer.
     */
    int code = 503;
    while (code == 503) {
        int fd = dial(rig);
        code = hear_code(fd, NULL, 0);
        (void)close(fd);
    }
    assert_int_equal(code, 200);
    rig_end(rig);
}

/* ---- the file ---- */

static void
test_socket_is_for_owner_and_group_only_and_leaves_with_the_daemon(void **state)
{
    (void)state;
    mode_t before = umask(0);
    struct rig *rig = rig_usual();
    struct stat found;
    assert_int_equal(lstat(rig->path, &found), 0);
    assert_true(S_ISSOCK(found.st_mode));
    assert_int_equal(found.st_mode & 07777, 0660);
    assert_int_equal(umask(0), 0); /* given back */
    (void)umask(before);
    rig_end(rig); /* checks that the directory is empty */
}

/* Connects as a user with no groups but its own; the errno met, 0 when it worked. */
static int
errno_as_stranger(const struct rig *rig, gid_t group)
{
    pid_t child = fork();
    assert_true(child >= 0);
    if (child == 0) {
        struct sockaddr_un address = {.sun_family = AF_UNIX};
        (void)snprintf(address.sun_path, sizeof address.sun_path, "%s", rig->path);
        int fd = socket(AF_UNIX, SOCK_STREAM, 0);
        if (fd < 0 || setgroups(0, NULL) != 0 || setgid(group) != 0 || setuid(65534) != 0)
            _exit(255);
        _exit(connect(fd, (const struct sockaddr *)&address, sizeof address) == 0 ? 0 : errno);
    }
    int status = 0;
    assert_int_equal(waitpid(child, &status, 0), child);
    assert_true(WIFEXITED(status));
    return WEXITSTATUS(status);
}

static void
test_socket_lets_its_group_in_and_keeps_strangers_out(void **state)
{
    (void)state;
    if (getuid() != 0)
        skip(); /* only root can become somebody else */
    struct rig *rig = rig_new(100);
    rig->options.group = "daemon"; /* of every Debian system (base-passwd) */
    rig_start(rig, &control_usual_bounds);
    /* It is the socket that decides here, not its directory. */
    assert_int_equal(chmod(rig->directory, 0755), 0);
    struct stat found;
    assert_int_equal(lstat(rig->path, &found), 0);
    const struct group *group = getgrnam("daemon");
    assert_non_null(group);
    assert_int_equal(found.st_gid, group->gr_gid);
    assert_int_equal(errno_as_stranger(rig, 65534), EACCES);
    assert_int_equal(errno_as_stranger(rig, group->gr_gid), 0);
    rig_end(rig);
}

static int
bind_here(const char *path, bool listening)
{
    int fd = socket(AF_UNIX, SOCK_STREAM | SOCK_CLOEXEC, 0);
    struct sockaddr_un address = {.sun_family = AF_UNIX};
    (void)snprintf(address.sun_path, sizeof address.sun_path, "%s", path);
    assert_int_equal(bind(fd, (const struct sockaddr *)&address, sizeof address), 0);
    if (listening)
        assert_int_equal(listen(fd, 1), 0);
    return fd;
}

static void
test_stale_socket_is_replaced(void **state)
{
    (void)state;
    struct rig *rig = rig_new(100);
    (void)close(bind_here(rig->path, true));
    rig_start(rig, &control_usual_bounds);
    assert_others_are_served(rig);
    rig_end(rig);
}

static void
assert_refused(struct rig *rig, const char *says)
{
    char wrong[400] = "";
    assert_null(control_start(&rig->options, rig->queue, rig->board, wrong, sizeof wrong));
    if (strstr(wrong, says) == NULL)
        fail_msg("refused with \"%s\", without \"%s\"", wrong, says);
}

static void
rig_end_unstarted(struct rig *rig)
{
    (void)unlink(rig->path);
    assert_int_equal(rmdir(rig->directory), 0);
    (void)pthread_mutex_destroy(&rig->fake.lock);
    (void)pthread_cond_destroy(&rig->fake.changed);
    queue_free(rig->queue);
    board_free(rig->board);
    free(rig);
}

static void
test_live_socket_is_refused_and_left_alone(void **state)
{
    (void)state;
    struct rig *rig = rig_usual();
    assert_refused(rig, "another trivetd");
    assert_others_are_served(rig);
    rig_end(rig);
}

static void
test_live_socket_with_a_full_backlog_is_still_live(void **state)
{
    (void)state;
    struct rig *rig = rig_new(100);
    int listener = bind_here(rig->path, true);
    int waiting[8];
    size_t count = 0;
    for (; count < 8; count++) {
        waiting[count] = socket(AF_UNIX, SOCK_STREAM | SOCK_NONBLOCK | SOCK_CLOEXEC, 0);
        struct sockaddr_un address = {.sun_family = AF_UNIX};
        (void)snprintf(address.sun_path, sizeof address.sun_path, "%s", rig->path);
        if (connect(waiting[count], (const struct sockaddr *)&address, sizeof address) != 0)
            break;
    }
    assert_true(count < 8); /* the backlog is full */
    assert_refused(rig, "another trivetd");
    for (size_t i = 0; i <= count; i++)
        (void)close(waiting[i]);
    (void)close(listener);
    rig_end_unstarted(rig);
}

static void
test_other_file_in_the_way_is_refused_and_left_alone(void **state)
{
    (void)state;
    struct rig *rig = rig_new(100);
    FILE *file = fopen(rig->path, "w");
    assert_non_null(file);
    (void)fclose(file);
    assert_refused(rig, "not a socket");
    assert_int_equal(access(rig->path, F_OK), 0);
    rig_end_unstarted(rig);
}

static void
test_path_that_cannot_be_is_refused_in_words(void **state)
{
    (void)state;
    struct rig *rig = rig_new(100);
    char path[300];
    (void)snprintf(path, sizeof path, "%s/none/control", rig->directory);
    rig->options.path = path;
    assert_refused(rig, "directory");
    memset(path, 'x', sizeof path - 1);
    path[sizeof path - 1] = '\0';
    assert_refused(rig, "shorter");
    rig->options.path = "";
    assert_refused(rig, "0 bytes");
    rig->options.path = rig->path;
    rig->options.group = "trivet-no-such-group";
    assert_refused(rig, "no group");
    assert_int_equal(access(rig->path, F_OK), -1);
    rig_end_unstarted(rig);
}

int
main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_entries_on_one_connection_are_answered_in_order),
        cmocka_unit_test(test_entry_records_the_user_at_the_other_end),
        cmocka_unit_test(test_malformed_line_is_answered_and_the_connection_goes_on),
        cmocka_unit_test(test_questions_before_the_first_snapshot_are_answered),
        cmocka_unit_test(test_truncated_line_is_refused_and_not_recorded),
        cmocka_unit_test(test_client_that_has_said_all_still_gets_its_answers),
        cmocka_unit_test(test_line_of_one_mebibyte_is_refused_and_the_connection_closed),
        cmocka_unit_test(test_slow_writer_delays_nobody),
        cmocka_unit_test(test_slow_reader_delays_nobody),
        cmocka_unit_test(test_reader_that_never_reads_is_closed),
        cmocka_unit_test(test_connection_gone_before_its_answer_harms_nothing),
        cmocka_unit_test(test_stop_with_an_entry_still_out_harms_nothing),
        cmocka_unit_test(test_entry_the_recorder_does_not_answer_is_said_to_be_unknown),
        cmocka_unit_test(test_idle_connection_is_closed_with_a_word),
        cmocka_unit_test(test_full_queue_is_told_and_nothing_is_recorded),
        cmocka_unit_test(test_one_connection_too_many_is_told_busy),
        cmocka_unit_test(test_ten_thousand_connections_leave_it_serving),
        cmocka_unit_test(test_socket_is_for_owner_and_group_only_and_leaves_with_the_daemon),
        cmocka_unit_test(test_socket_lets_its_group_in_and_keeps_strangers_out),
        cmocka_unit_test(test_stale_socket_is_replaced),
        cmocka_unit_test(test_live_socket_is_refused_and_left_alone),
        cmocka_unit_test(test_live_socket_with_a_full_backlog_is_still_live),
        cmocka_unit_test(test_other_file_in_the_way_is_refused_and_left_alone),
        cmocka_unit_test(test_path_that_cannot_be_is_refused_in_words),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
