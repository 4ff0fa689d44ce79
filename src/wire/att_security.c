#include "wire/att_security.h"

#include <string.h>

enum { ERROR_LENGTH = 5 }; /* opcode, opcode of the request, handle, code */

void att_security_sent(struct att_security *security, const uint8_t *pdu, size_t length)
{
    if (length == 0 || length > ATT_MTU_MAX || att_kind(pdu[0]) != ATT_KIND_REQUEST)
        return;
    memcpy(security->request, pdu, length);
    security->length = length;
}

bool att_security_is_asked(struct att_security *security, const uint8_t *pdu, size_t length)
{
    if (length == 0 || att_kind(pdu[0]) != ATT_KIND_RESPONSE || security->length == 0)
        return false;
    const bool is_refused =
        length == ERROR_LENGTH && pdu[0] == ATT_ERROR_RESPONSE && pdu[1] == security->request[0] &&
        (pdu[4] == ATT_INSUFFICIENT_AUTHENTICATION || pdu[4] == ATT_INSUFFICIENT_ENCRYPTION);
    if (is_refused && !security->was_asked) {
        security->was_asked = true;
        return true;
    }
    security->length = 0;
    return false;
}
