/* What keeps a refused request, in any state that it can be in, and one call; that it is in such a
 * state again. It begins zeroed, which is one.
 * Eva: -eva-precision 1 -eva-plevel 1000 */
#include "unknown.h"
#include "wire/att_security.h"

static struct att_security security;
static uint8_t pdu[ATT_PDU_BUFFER];

static void any_security(void)
{
    MAKE_UNKNOWN(security.request);
    security.length = any_size(ATT_MTU_MAX);
    security.was_asked = any_bool();
}

int main(void)
{
    any_security();
    MAKE_UNKNOWN(pdu);
    if (any_bool())
        att_security_sent(&security, pdu, any_size(sizeof pdu));
    else
        att_security_is_asked(&security, pdu, any_size(sizeof pdu));
    /*@ assert security.length <= ATT_MTU_MAX; */
    return 0;
}
