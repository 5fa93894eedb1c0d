/* The operator command's subcommands on sensor physics: `trivet convert` and `trivet
 * boiling-point`. They need no daemon and no plan. */
#ifndef CLI_CONVERT_H
#define CLI_CONVERT_H

/* argv[0] is the subcommand word. Print the answer on stdout, or what is wrong on stderr;
 * return the exit code: 0 done, 1 stdout could not be written, 2 usage or a value refused. */
int cli_convert(int argc, char **argv);
int cli_boiling_point(int argc, char **argv);

#endif
