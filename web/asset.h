/* The page's own files, compiled into the program from web/assets/ (see the Makefile). */
#ifndef WEB_ASSET_H
#define WEB_ASSET_H

#include <stddef.h>

struct web_asset {
    const char *name; /* "style.css" */
    const unsigned char *bytes;
    size_t len;
    const char *tag; /* ETag: the digest of the bytes, quoted */
};

extern const struct web_asset web_assets[]; /* ends with a NULL name */

#endif
