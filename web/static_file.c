/* The style sheet, the script, the icon. They change only with the program, so they alone may
 * be kept by a browser, after asking whether they are still the same. Server thread. */
#include <string.h>

#include "asset.h"
#include "own.h"

static const char *
type_of(const char *name)
{
    const char *dot = strrchr(name, '.');
    if (dot != NULL && strcmp(dot, ".css") == 0)
        return "text/css; charset=utf-8";
    if (dot != NULL && strcmp(dot, ".js") == 0)
        return "text/javascript; charset=utf-8";
    return "image/svg+xml";
}

struct answer
static_file(struct request *request, struct store_reader *reader)
{
    const struct web_asset *asset = web_assets;
    (void)reader;
    while (asset->name != NULL && strcmp(asset->name, request->query.path + 1) != 0)
        asset++;
    if (asset->name == NULL)
        return answer_words(request->web, MHD_HTTP_NOT_FOUND, "No such page",
                            "There is nothing at this address.");
    const char *known = MHD_lookup_connection_value(request->connection, MHD_HEADER_KIND,
                                                    MHD_HTTP_HEADER_IF_NONE_MATCH);
    bool same = known != NULL && strcmp(known, asset->tag) == 0;
    struct answer answer = {.status = same ? MHD_HTTP_NOT_MODIFIED : MHD_HTTP_OK};
    /* The cast takes const away for the library's sake, which does not write through it. */
    answer.response = MHD_create_response_from_buffer(
        same ? 0 : asset->len, (void *)(uintptr_t)asset->bytes, MHD_RESPMEM_PERSISTENT);
    if (answer.response != NULL)
        answer_dress(answer.response, type_of(asset->name), "no-cache");
    return answer_with(answer, MHD_HTTP_HEADER_ETAG, asset->tag);
}
