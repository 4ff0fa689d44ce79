/*
 * What the analysed programs share: values that can be anything, for Frama-C's Eva.
 */
#ifndef PROVE_UNKNOWN_H
#define PROVE_UNKNOWN_H

#include <__fc_builtin.h>
#include <limits.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/* Not for structs with a bool in them, which holds no more than two values. */
#define MAKE_UNKNOWN(object) Frama_C_make_unknown((char *)&(object), sizeof(object))

static inline int any_int(int least, int most)
{
    return Frama_C_interval(least, most);
}

static inline bool any_bool(void)
{
    return Frama_C_interval(0, 1) != 0;
}

static inline uint32_t any_u32(void)
{
    return Frama_C_unsigned_int_interval(0, UINT32_MAX);
}

static inline uint64_t any_u64(void)
{
    return Frama_C_unsigned_long_interval(0, UINT64_MAX);
}

static inline int64_t any_i64(void)
{
    return Frama_C_long_interval(INT64_MIN, INT64_MAX);
}

static inline size_t any_size(size_t most)
{
    return Frama_C_unsigned_long_interval(0, most);
}

#endif
