/* Doors and buttons: shown, recorded and told, never judged by. */
#ifndef ENGINE_SWITCHES_H
#define ENGINE_SWITCHES_H

#include "daemon/engine/state.h"

/* Takes an ENGINE_SWITCH. */
void switch_take(struct engine *engine, struct engine_output *out, int64_t at_ms,
                 const struct switch_event *event);
void switch_due(struct engine *engine, struct engine_output *out, int64_t at_ms, size_t index);
/* The place's quiet hours are over. */
void switches_heed(struct engine *engine, const char *place);
/* Nobody watched. */
void switches_restart(struct engine *engine, struct engine_output *out, int64_t at_ms);
/* A plan comes into force; its places have followed. */
void switches_follow(struct engine *engine, struct engine_output *out, int64_t at_ms,
                     const struct plan *plan);

#endif
