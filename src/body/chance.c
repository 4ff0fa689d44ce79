#include "body/chance.h"

#include <assert.h>
#include <math.h>
#include <stdbool.h>

double chance_normal(double z)
{
    return erfc(-z / sqrt(2.0)) / 2.0;
}

double chance_student(double t, uint32_t freedom)
{
    static const double pi = 3.14159265358979323846;
    assert(freedom >= 1);
    const double angle = atan(t / sqrt(freedom));
    const double cosine = cos(angle), square = cosine * cosine;
    const bool is_odd = freedom % 2 == 1;
    double term = is_odd ? cosine : 1.0, sum = 0;

    /* term k is the one before by (k - 1) / k, times the square, with k of the freedom's kind */
    for (uint32_t i = 0; i < freedom / 2; i++) {
        const uint32_t k = 2 * i + (is_odd ? 3 : 2);
        sum += term;
        term *= square * (k - 1) / k;
    }
    sum *= sin(angle);
    return 0.5 + (is_odd ? (angle + sum) / pi : sum / 2.0);
}
