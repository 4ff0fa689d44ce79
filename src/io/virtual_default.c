/* The built-in machine and rider: the text of their files, put into headers by the Makefile. */
#include <assert.h>

#include "embedded/power.machine.h"
#include "embedded/steady.rider.h"
#include "io/virtual_config.h"

struct virtual_machine_config virtual_machine_default(void)
{
    struct virtual_machine_config config = {0};
    struct text_fault fault;
    enum result result =
        virtual_machine_read(power_machine, sizeof(power_machine) - 1, &config, &fault);
    assert(result == RESULT_OK); /* test_virtual_config reads the same files */
    (void)result;
    return config;
}

struct virtual_rider_config virtual_rider_default(void)
{
    struct virtual_rider_config config = {0};
    struct text_fault fault;
    enum result result =
        virtual_rider_read(steady_rider, sizeof(steady_rider) - 1, &config, &fault);
    assert(result == RESULT_OK);
    (void)result;
    return config;
}
