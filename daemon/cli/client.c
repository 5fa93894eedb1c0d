/* One question to the daemon, one answer. See client.h. */
#include "daemon/cli/client.h"

#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <sys/time.h>
#include <sys/un.h>
#include <unistd.h>

#include <sodium.h>

#include "daemon/cli/pin.h"

#define PROTOCOL   1
#define PATIENCE_S 15 /* longer than the daemon's own patience with its recorder */
#define ANSWER_MAX ((size_t)16 << 20)

static int
reach(const char *path, char *reterr, size_t err_size)
{
    struct sockaddr_un address = {.sun_family = AF_UNIX};
    size_t len = strlen(path);
    if (len == 0 || len >= sizeof address.sun_path) {
        (void)snprintf(reterr, err_size,
                       "the socket's path has %zu bytes, 1 to %zu are possible; see --socket",
                       len, sizeof address.sun_path - 1);
        return -1;
    }
    memcpy(address.sun_path, path, len + 1);
    int fd = socket(AF_UNIX, SOCK_STREAM | SOCK_CLOEXEC, 0);
    struct timeval patience = {.tv_sec = PATIENCE_S};
    if (fd >= 0 && setsockopt(fd, SOL_SOCKET, SO_RCVTIMEO, &patience, sizeof patience) == 0 &&
        setsockopt(fd, SOL_SOCKET, SO_SNDTIMEO, &patience, sizeof patience) == 0 &&
        connect(fd, (const struct sockaddr *)&address, sizeof address) == 0)
        return fd;
    int why = errno;
    if (fd >= 0)
        (void)close(fd); /* nothing was written */
    if (why == ENOENT || why == ECONNREFUSED)
        (void)snprintf(reterr, err_size,
                       "nobody answers at %s: is trivetd running? If it listens elsewhere, say "
                       "--socket PATH or set TRIVET_SOCKET",
                       path);
    else if (why == EACCES)
        (void)snprintf(
            reterr, err_size,
            "your user may not write to %s: ask for membership of the group that owns "
            "it (`ls -l %s` shows which)",
            path, path);
    else
        (void)snprintf(reterr, err_size, "the daemon at %s cannot be reached: %s", path,
                       strerror(why));
    return -1;
}

/* One line, without its newline; the caller frees it. NULL when none came (errno, 0 = the other
 * side closed). */
static char *
hear_line(FILE *from)
{
    char *line = NULL;
    size_t len = 0, room = 0;
    int c;
    errno = 0;
    while ((c = getc(from)) != EOF && c != '\n') {
        if (len + 2 > room) {
            size_t more = room == 0 ? 4096 : room * 2;
            char *bigger = more > ANSWER_MAX ? NULL : realloc(line, more);
            if (bigger == NULL)
                break;
            line = bigger;
            room = more;
        }
        line[len++] = (char)c;
    }
    if (c != '\n' || line == NULL) {
        free(line);
        return NULL;
    }
    line[len] = '\0';
    return line;
}

static json_t *
hear_object(FILE *from)
{
    char *line = hear_line(from);
    json_t *object = line == NULL ? NULL : json_loads(line, JSON_REJECT_DUPLICATES, NULL);
    free(line);
    if (json_is_object(object))
        return object;
    json_decref(object);
    return NULL;
}

int
client_code(const json_t *answer)
{
    return (int)json_integer_value(json_object_get(answer, "code"));
}

const char *
client_say(const json_t *answer)
{
    const char *say = json_string_value(json_object_get(answer, "say"));
    return say == NULL ? "" : say;
}

static bool
greeting_is_ours(FILE *from, const char *path, char *reterr, size_t err_size)
{
    json_t *greeting = hear_object(from);
    json_int_t protocol = json_integer_value(json_object_get(greeting, "protocol"));
    bool good = client_code(greeting) == 200 && protocol == PROTOCOL;
    if (greeting == NULL)
        (void)snprintf(reterr, err_size,
                       "what listens at %s does not greet as trivetd does; see --socket", path);
    else if (client_code(greeting) != 200)
        (void)snprintf(reterr, err_size, "the daemon at %s says: %.300s", path,
                       client_say(greeting));
    else if (!good)
        (void)snprintf(
            reterr, err_size,
            "the daemon at %s speaks protocol %lld, this command %d: install the same "
            "version of both",
            path, (long long)protocol, PROTOCOL);
    json_decref(greeting);
    return good;
}

static bool
say_line(int fd, const json_t *request)
{
    char *text = json_dumps(request, JSON_COMPACT);
    if (text == NULL)
        return false;
    size_t len = strlen(text), sent = 0;
    text[len++] = '\n'; /* in the place of the NUL: the length says where it ends */
    while (sent < len) {
        ssize_t part = send(fd, text + sent, len - sent, MSG_NOSIGNAL);
        if (part <= 0)
            break;
        sent += (size_t)part;
    }
    free(text);
    return sent == len;
}

enum client_status
client_ask(const char *socket_path, const json_t *request, json_t **ret_answer, char *reterr,
           size_t err_size)
{
    int fd = reach(socket_path, reterr, err_size);
    if (fd < 0)
        return CLIENT_UNREACHABLE;
    FILE *from = fdopen(fd, "r");
    if (from == NULL) {
        (void)snprintf(reterr, err_size, "no memory to listen to the daemon");
        (void)close(fd);
        return CLIENT_UNREACHABLE;
    }
    enum client_status status = CLIENT_UNREACHABLE;
    if (greeting_is_ours(from, socket_path, reterr, err_size)) {
        /* A request that could not be sent whole may still have been answered, with the reason.
         */
        (void)say_line(fd, request);
        *ret_answer = hear_object(from);
        status = *ret_answer != NULL ? CLIENT_ANSWERED : CLIENT_UNKNOWN;
        if (status == CLIENT_UNKNOWN)
            (void)snprintf(reterr, err_size,
                           "the daemon at %s has not answered; look with `trivet now`",
                           socket_path);
    }
    (void)fclose(from); /* only read from */
    return status;
}

/* The same once more with the person's PIN; NULL when there is none to be had. */
static json_t *
ask_with_pin(const struct cli *cli, const json_t *request)
{
    char pin[CLI_PIN_MAX], why[600];
    json_t *answer = NULL, *again = NULL;
    if (json_object_get(request, "pin") == NULL && pin_read(cli, "Your PIN:", pin) &&
        pin[0] != '\0')
        again = json_copy((json_t *)(uintptr_t)request); /* the copy alone is changed */
    if (again != NULL && json_object_set_new(again, "pin", json_string(pin)) == 0)
        (void)client_ask(cli->socket, again, &answer, why, sizeof why);
    sodium_memzero(pin, sizeof pin);
    json_decref(again);
    return answer;
}

int
client_ask_or_fail(const struct cli *cli, const json_t *request, json_t **ret_answer)
{
    char why[600];
    json_t *answer = NULL;
    enum client_status status = client_ask(cli->socket, request, &answer, why, sizeof why);
    if (status != CLIENT_ANSWERED)
        return cli_fail(cli, CLI_UNREACHABLE, "%s", why);
    int code = client_code(answer);
    if (code == 401) {
        json_t *second = ask_with_pin(cli, request);
        if (second != NULL) {
            json_decref(answer);
            answer = second;
            code = client_code(answer);
        }
    }
    if (code == 200) {
        *ret_answer = answer;
        return CLI_DONE;
    }
    if (cli->json) {
        (void)json_dumpf(answer, cli->out, JSON_COMPACT);
        (void)fputc('\n', cli->out);
    }
    (void)fprintf(cli->err, "trivet %s: ", cli->verb);
    cli_print_clean(cli->err, client_say(answer));
    (void)fputc('\n', cli->err);
    json_decref(answer);
    return code == 504 ? CLI_UNREACHABLE : CLI_REFUSED;
}

int
client_question(const struct cli *cli, const char *word, json_t **ret_answer)
{
    json_t *request = json_pack("{s:s}", "do", word);
    if (request == NULL)
        return cli_fail(cli, CLI_UNREACHABLE, "no memory to ask the daemon");
    int code = client_ask_or_fail(cli, request, ret_answer);
    json_decref(request);
    return code;
}
