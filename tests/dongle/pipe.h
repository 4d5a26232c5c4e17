#ifndef BANDCENSUS_TESTS_DONGLE_PIPE_H
#define BANDCENSUS_TESTS_DONGLE_PIPE_H

#include <libusb.h>

#include "tests/dongle/state.h"

/* The bulk endpoint of an open dongle: samples as they come, into the transfers
 * there are, in order. What was received before a register changed stays as it
 * was. All but pipe_serve may be called by any thread. */
struct pipe;

struct pipe *pipe_create(struct state *s, int dongle);          /* NULL: no memory */
void pipe_destroy(struct pipe *p);                              /* NULL is fine    */

/* 0 or an error of libusb's. */
int pipe_submit(struct pipe *p, struct libusb_transfer *t);
int pipe_cancel(struct pipe *p, struct libusb_transfer *t);

/* It is about to be freed; true when it was still in flight. */
bool pipe_forget(struct pipe *p, struct libusb_transfer *t);

/* A register was written. */
void pipe_registers(struct pipe *p);

/* Runs the callbacks of what is due; how many. Once the dongle is gone that is all
 * there is. One thread at a time. */
int pipe_serve(struct pipe *p, bool gone);

/* When the next is due, on the shared clock; INT64_MAX when none will be. */
int64_t pipe_due_us(struct pipe *p);

#endif
