/* A plain HTTP/1.1 client over real sockets, for tests that must say exactly what is sent. */
#ifndef SUPPORT_HTTP_CLIENT_H
#define SUPPORT_HTTP_CLIENT_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

struct http_reply {
    int status; /* 0 = the server closed without an answer */
    char *text; /* all of it, NUL-terminated */
    size_t len;
    const char *body; /* inside text; chunks are not taken apart */
};

/* A connection to 127.0.0.1; -1 when refused. Reading and writing give up after ten seconds. */
int http_connect(uint16_t port);
bool http_send(int fd, const char *text);
/* Reads until the server closes. */
void http_read_all(int fd, struct http_reply *ret);
/* Reads until text appears in what came, appending to buf (NUL-terminated); false at the end,
 * time-out or full. */
bool http_read_until(int fd, const char *text, char *buf, size_t size);
/* One whole exchange: sends the text, reads to the end, closes. */
void http_exchange(uint16_t port, const char *request, struct http_reply *ret);
/* GET with Host and Connection: close; extra holds further header lines, each ending in CRLF,
 * or "". */
void http_get(uint16_t port, const char *target, const char *extra, struct http_reply *ret);
void http_reply_done(struct http_reply *reply);
/* Value of a header, copied; false when there is none. Case of the name does not matter. */
bool http_header(const struct http_reply *reply, const char *name, char *buf, size_t size);

#endif
