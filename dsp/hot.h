#ifndef BANDCENSUS_DSP_HOT_H
#define BANDCENSUS_DSP_HOT_H

/* Before a loop that the compiler is to make several of, for old and new
 * processors in one binary: the loader picks. clang and the sanitizers do not go
 * along with that. */
#if defined(__x86_64__) && defined(__GNUC__) && !defined(__clang__) && !defined(__SANITIZE_ADDRESS__)
#define HOT __attribute__((target_clones("default", "avx2", "avx512f")))
#else
#define HOT
#endif

#endif
