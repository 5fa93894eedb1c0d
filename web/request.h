/* The way of one request through the server. */
#ifndef WEB_REQUEST_H
#define WEB_REQUEST_H

#include "own.h"

/* libmicrohttpd's three calls. */
void *request_begin(void *arg, const char *target, struct MHD_Connection *connection);
enum MHD_Result request_handle(void *arg, struct MHD_Connection *connection, const char *url,
                               const char *method, const char *version, const char *upload,
                               size_t *upload_size, void **request);
void request_completed(void *arg, struct MHD_Connection *connection, void **request,
                       enum MHD_RequestTerminationCode why);

#endif
