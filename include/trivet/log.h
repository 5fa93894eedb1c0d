/* One line per event on stderr: `level area: what happened to 'object' (values), what we do
 * next`.
 *
 * Any thread may log; a line is written in one call. Outside text is escaped (control
 * characters, what turns the reading direction and what is no UTF-8 become \xNN). Pure rooms,
 * drivers, the store and web do not log: they return. */
#ifndef TRIVET_LOG_H
#define TRIVET_LOG_H

enum log_level { LOG_ERROR, LOG_WARN, LOG_INFO, LOG_DEBUG };

#if defined(__GNUC__)
#define TRIVET_PRINTF(format_at, first_at) __attribute__((format(printf, format_at, first_at)))
#define TRIVET_MUST_USE                    __attribute__((warn_unused_result))
#else
#define TRIVET_PRINTF(format_at, first_at)
#define TRIVET_MUST_USE
#endif

/* Lines above this level are dropped. Call before other threads start. Default LOG_INFO. */
void log_set_level(enum log_level level);

/* When stderr leads to the service manager's journal, as JOURNAL_STREAM then says
 * (systemd.exec(5)), lines begin with their priority from here on (sd-daemon(3)), so that the
 * journal can be asked for warnings alone. Call before other threads start. */
void log_meet_journal(void);

void log_line(enum log_level level, const char *area, const char *format, ...)
    TRIVET_PRINTF(3, 4);

#endif
