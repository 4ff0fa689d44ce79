/*
 * What goes wrong, each function in one way: see sight.py.
 */
#include <string.h>

#include "unknown.h"

static int table[10];
static struct {
    size_t count;
    int list[8];
} kept;

static int divides_a_sum(int from, int to, int by)
{
    return from + (to - from) / by;
}

static int divides_a_square(int a, int by)
{
    return a * a / by;
}

static int divides_long(int64_t a, int64_t by)
{
    return (int)(a / by + a);
}

static int takes_the_rest_of_a_square(int a, int by)
{
    return a * a % by;
}

static int divides_by_what_it_has_asked_about(int a, int by)
{
    return by >= 0 ? a * a / by : 0;
}

static unsigned shifts_a_square(unsigned a, int by)
{
    return a * a << by;
}

static int squares(int a)
{
    return a * a + a;
}

static int indexes_twice(int at)
{
    return at <= 8 ? kept.list[at] * kept.list[at] / (at + 1) : 0;
}

static int adds_what_it_indexes(int a, int at)
{
    return a * a + table[at];
}

static int follows(int by)
{
    const int *place = table + by;

    return *place;
}

static int runs_over(int count)
{
    int sum = 0;

    for (int i = 0; i < count; i++)
        sum += table[i] != 0;
    return sum;
}

static int looks_for(int value)
{
    int i = 0;

    while (table[i] != value)
        i++;
    return i;
}

static void keeps_one_more(size_t count)
{
    kept.count = count;
    kept.list[kept.count++] = 1;
}

static void copies(size_t count)
{
    char from[8] = {0}, to[8];

    memcpy(to, from, count);
}

static int reads_what_nobody_wrote(bool writes)
{
    int value;

    if (writes)
        value = 1;
    return value;
}

static double grows_without_end(double a)
{
    return a * a + a;
}

static int rounds_what_no_int_holds(double a)
{
    return (int)(a * a + a);
}

int main(void)
{
    const int small = any_int(-9, 9), natural = any_int(0, 9), large = any_int(0, 90);

    divides_a_sum(small, natural, any_int(0, 9));
    divides_a_square(small, any_int(0, 9));
    divides_long(small, any_int(0, 9));
    takes_the_rest_of_a_square(small, any_int(0, 9));
    divides_by_what_it_has_asked_about(small, any_int(-9, 9));
    shifts_a_square((unsigned)natural, large);
    squares(any_int(INT_MIN, INT_MAX));
    indexes_twice(any_int(0, 9));
    adds_what_it_indexes(small, any_int(0, 90));
    follows(any_int(0, 90));
    runs_over(any_int(0, 90));
    looks_for(small);
    keeps_one_more(any_size(90));
    copies(any_size(90));
    reads_what_nobody_wrote(any_bool());
    grows_without_end(Frama_C_double_interval(-1e300, 1e300));
    rounds_what_no_int_holds(Frama_C_double_interval(-1e30, 1e30));
    return 0;
}
