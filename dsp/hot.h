#ifndef BANDCENSUS_DSP_HOT_H
#define BANDCENSUS_DSP_HOT_H

/* Before a loop that the compiler is to make several of, for old and new
 * processors in one binary: the loader picks. The levels are those of the x86-64
 * psABI: 3 has AVX2 and fused multiply-add, 4 has AVX-512 down to bytes. clang and
 * the sanitizers do not go along with that. */
#if defined(__x86_64__) && defined(__GNUC__) && !defined(__clang__) && !defined(__SANITIZE_ADDRESS__) && \
    !defined(__SANITIZE_THREAD__)
#define HOT __attribute__((target_clones("default", "arch=x86-64-v3", "arch=x86-64-v4")))
#else
#define HOT
#endif

#endif
