/* Numbers by chance that are the same on every machine: xorshift64* (Vigna, ACM Trans. Math. Softw. 42 (2016) 30). */
#ifndef DRYFRONT_TESTS_CHANCE_H
#define DRYFRONT_TESTS_CHANCE_H

#include <stddef.h>
#include <stdint.h>

static inline uint64_t next_bits(uint64_t *s) {
    *s ^= *s >> 12;
    *s ^= *s << 25;
    *s ^= *s >> 27;
    return *s * 0x2545F4914F6CDD1Du;
}

/* Between 0 and 1, both left out. */
static inline double uniform(uint64_t *s) {
    return ((double)(next_bits(s) >> 11) + 0.5) * 0x1p-53;
}
static inline size_t below(uint64_t *s, size_t n) {
    return (size_t)(next_bits(s) % n);
}

static inline uint64_t seed_of(uint64_t number) {
    uint64_t s = (number + 1) * 0x9E3779B97F4A7C15u;
    for (int i = 0; i < 4; i++)
        next_bits(&s);
    return s;
}

#endif
