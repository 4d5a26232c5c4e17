#ifndef BANDCENSUS_DAEMON_LOG_H
#define BANDCENSUS_DAEMON_LOG_H

/* One event, one line on stderr: what first, then key=value. Levels are those of
 * syslog, which a journal reads from the <N> in front. */
enum log_level { LOG_ERROR = 3, LOG_WARNING = 4, LOG_NOTICE = 5, LOG_INFO = 6 };

void log_line(enum log_level level, const char *format, ...) __attribute__((format(printf, 2, 3)));


/* Why the program ends, as programs say it: "bandcensusd: ...". Only for a journal, which would take it for
 * an ordinary line, with its level in front. */
void log_failure(const char *text);

#endif
