/* Stored tables of any octets, and tables with anything in them to be stored.
 * Eva: -eva-precision 1 -eva-plevel 300 */
#include "unknown.h"
#include "wire/gatt_known.h"

static struct gatt_known known;
static uint8_t stored[GATT_KNOWN_OCTETS_MAX];

int main(void)
{
    /*@ widen_hints global:"all", 23, 24, 95, 96; */
    MAKE_UNKNOWN(stored);
    if (gatt_known_decode(stored, any_size(sizeof stored), &known) == RESULT_OK)
        gatt_known_encode(&known, stored);
    return 0;
}
