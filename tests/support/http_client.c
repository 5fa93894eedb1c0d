/* See http_client.h. */
#include "tests/support/http_client.h"

#include <arpa/inet.h>
#include <netinet/in.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>
#include <sys/socket.h>
#include <sys/time.h>
#include <unistd.h>

int
http_connect(uint16_t port)
{
    struct sockaddr_in address = {.sin_family = AF_INET, .sin_port = htons(port)};
    struct timeval limit = {.tv_sec = 10};
    address.sin_addr.s_addr = htonl(INADDR_LOOPBACK);
    int fd = socket(AF_INET, SOCK_STREAM | SOCK_CLOEXEC, 0);
    if (fd < 0)
        return -1;
    (void)setsockopt(fd, SOL_SOCKET, SO_RCVTIMEO, &limit, sizeof limit);
    (void)setsockopt(fd, SOL_SOCKET, SO_SNDTIMEO, &limit, sizeof limit);
    if (connect(fd, (const struct sockaddr *)&address, sizeof address) == 0)
        return fd;
    (void)close(fd);
    return -1;
}

bool
http_send(int fd, const char *text)
{
    size_t len = strlen(text);
    while (len > 0) {
        ssize_t sent = send(fd, text, len, MSG_NOSIGNAL);
        if (sent <= 0)
            return false;
        text += sent;
        len -= (size_t)sent;
    }
    return true;
}

void
http_read_all(int fd, struct http_reply *ret)
{
    size_t room = 65536;
    *ret = (struct http_reply){.text = malloc(room)};
    for (;;) {
        if (ret->text != NULL && ret->len + 1 == room)
            ret->text = realloc(ret->text, room *= 2);
        if (ret->text == NULL)
            abort();
        ssize_t got = recv(fd, ret->text + ret->len, room - ret->len - 1, 0);
        if (got <= 0)
            break;
        ret->len += (size_t)got;
    }
    ret->text[ret->len] = '\0';
    if (sscanf(ret->text, "HTTP/1.%*d %d", &ret->status) != 1)
        ret->status = 0;
    const char *end = strstr(ret->text, "\r\n\r\n");
    ret->body = end == NULL ? ret->text + ret->len : end + 4;
}

bool
http_read_until(int fd, const char *text, char *buf, size_t size)
{
    size_t len = strlen(buf);
    while (strstr(buf, text) == NULL) {
        if (len + 1 >= size)
            return false;
        ssize_t got = recv(fd, buf + len, size - len - 1, 0);
        if (got <= 0)
            return false;
        len += (size_t)got;
        buf[len] = '\0';
    }
    return true;
}

void
http_exchange(uint16_t port, const char *request, struct http_reply *ret)
{
    int fd = http_connect(port);
    if (fd < 0) {
        *ret = (struct http_reply){.text = calloc(1, 1)};
        ret->body = ret->text;
        return;
    }
    (void)http_send(fd, request); /* the server may answer and close before all is sent */
    http_read_all(fd, ret);
    (void)close(fd);
}

void
http_get(uint16_t port, const char *target, const char *extra, struct http_reply *ret)
{
    size_t size = strlen(target) + strlen(extra) + 200;
    char *request = malloc(size);
    if (request == NULL)
        abort();
    (void)snprintf(request, size,
                   "GET %s HTTP/1.1\r\nHost: 127.0.0.1:%u\r\nConnection: close\r\n%s\r\n",
                   target, (unsigned)port, extra);
    http_exchange(port, request, ret);
    free(request);
}

void
http_reply_done(struct http_reply *reply)
{
    free(reply->text);
    *reply = (struct http_reply){0};
}

bool
http_header(const struct http_reply *reply, const char *name, char *buf, size_t size)
{
    size_t len = strlen(name);
    for (const char *line = strstr(reply->text, "\r\n"); line != NULL && line + 2 < reply->body;
         line = strstr(line + 2, "\r\n")) {
        if (strncasecmp(line + 2, name, len) != 0 || line[2 + len] != ':')
            continue;
        const char *value = line + 2 + len + 1 + strspn(line + 2 + len + 1, " ");
        (void)snprintf(buf, size, "%.*s", (int)strcspn(value, "\r\n"), value);
        return true;
    }
    return false;
}
