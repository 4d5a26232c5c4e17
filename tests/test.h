#ifndef BANDCENSUS_TESTS_TEST_H
#define BANDCENSUS_TESTS_TEST_H

/* cmocka wants these before it. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#endif
