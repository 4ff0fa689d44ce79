/*
 * Runs a corpus through one searched program without clang: each file as it is, cut short at every
 * length, and with chance changes that are the same every time.
 * Usage: fuzz_x FILE...
 */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "fuzz.h"
#include "io/virtual_random.h"

#define SEED_MAX       65536u
#define CHANGES        2000u
#define OCTETS_IN_ALL  3000000u /* per seed, for cuts and for changes: long ones get fewer */
#define CHANGES_AT_ONE 4u

static uint8_t seed[SEED_MAX];

static struct virtual_random random_state;

static uint64_t chance(void)
{
    return virtual_random_next(&random_state);
}

/* In a block of its own size. */
static void run(const uint8_t *octets, size_t length)
{
    uint8_t *copy = malloc(length > 0 ? length : 1);
    FUZZ_CHECK(copy != NULL);
    memcpy(copy, octets, length);
    (void)LLVMFuzzerTestOneInput(copy, length);
    free(copy);
}

static void run_cut(size_t length)
{
    const size_t step = 1 + length * length / 2 / OCTETS_IN_ALL;
    for (size_t cut = 0; cut < length; cut += step)
        run(seed, cut);
}

/* One octet to any value, or a stretch taken out, or a stretch said twice. */
static size_t change(uint8_t *octets, size_t length)
{
    const size_t at = chance() % length;
    const size_t stretch = 1 + chance() % (length - at < 16 ? length - at : 16);
    switch (chance() % 4) {
    case 0:
        memmove(octets + at, octets + at + stretch, length - at - stretch);
        return length - stretch;
    case 1: memmove(octets + at + stretch, octets + at, length - at); return length + stretch;
    case 2: octets[at] ^= (uint8_t)(1u << chance() % 8); return length;
    default: octets[at] = (uint8_t)chance(); return length;
    }
}

static void run_changed(size_t length)
{
    static uint8_t changed[SEED_MAX + 16 * CHANGES_AT_ONE];
    const size_t affordable = OCTETS_IN_ALL / (length + 1);
    const size_t count = affordable < CHANGES ? affordable : CHANGES;
    random_state.state = 20260101;
    for (size_t i = 0; i < count; i++) {
        size_t now = length;
        memcpy(changed, seed, length);
        for (uint64_t changes = 1 + chance() % CHANGES_AT_ONE; changes > 0 && now > 0; changes--)
            now = change(changed, now);
        run(changed, now);
    }
}

static bool read_seed(const char *path, size_t *ret_length)
{
    FILE *file = fopen(path, "rb");
    if (file == NULL) {
        perror(path);
        return false;
    }
    *ret_length = fread(seed, 1, sizeof seed, file);
    const bool is_whole = !ferror(file) && *ret_length < sizeof seed;
    if (!is_whole)
        fprintf(stderr, "%s: cannot be read, or is longer than %u octets\n", path, SEED_MAX - 1);
    (void)fclose(file);
    return is_whole;
}

int main(int argc, char **argv)
{
    if (argc < 2) {
        fprintf(stderr, "%s: no file to run\n", argv[0]);
        return 2;
    }
    for (int i = 1; i < argc; i++) {
        size_t length = 0;
        if (!read_seed(argv[i], &length))
            return 2;
        /* Kept when the program aborts: this is the file that it was at. */
        fprintf(stderr, "at %s\n", argv[i]);
        run(seed, length);
        run_cut(length);
        if (length > 0)
            run_changed(length);
    }
    printf("%d in all\n", argc - 1);
    return 0;
}
