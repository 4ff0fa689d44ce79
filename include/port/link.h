/*
 * A link to one peer that carries attribute PDUs: a socket, a radio, a test. One send is one packet
 * and one packet is one PDU.
 */
#ifndef PORT_LINK_H
#define PORT_LINK_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "base/result.h"

/* Whoever opens the link gives these; they are called from the loop, never from within an operation
 * of the link. `opened` comes once and first, also on links that stand from the start; what is sent
 * before it is lost. `closed` comes once and last, and alone when the link could not be opened; not
 * after link_close(). */
struct link_user {
    void (*opened)(void *user);
    void (*received)(void *user, const uint8_t *pdu, size_t length);
    void (*closed)(void *user, const char *why); /* words for the rider, kept by him who calls */
    void *user;
};

/* How the descriptor of a link is to be spoken through. Zeroed: a socket that keeps packets apart.
 */
struct link_way {
    uint16_t in_size;           /* of a packet of the pipe IN, in octets */
    bool is_usb;                /* it is the node of a device; the rest is of that alone */
    uint8_t interface, in, out; /* its number, and the addresses of its bulk pipes */
};

struct link;

struct link_operations {
    enum result (*send)(struct link *link, const uint8_t *pdu, size_t length);
    enum result (*secure)(struct link *link);
    void (*close)(struct link *link); /* gives it back to whoever made it */
    int (*descriptor)(const struct link *link, struct link_way *ret); /* NULL: there is none */
    bool (*is_securing)(const struct link *link);                     /* NULL: never */
};

struct link {
    const struct link_operations *operations;
};

/* Never blocks. RESULT_CLOSED when the peer is gone, RESULT_FULL when it does not read. */
MUST_USE static inline enum result link_send(struct link *link, const uint8_t *pdu, size_t length)
{
    return link->operations->send(link, pdu, length);
}

/* Asks for encryption, because the peer does. What is sent from now on goes out once there is;
 * where none comes about the link closes. RESULT_UNSUPPORTED where there is no such thing. */
MUST_USE static inline enum result link_secure(struct link *link)
{
    return link->operations->secure(link);
}

/* Whether encryption was asked for and has not come about yet: nothing can be answered meanwhile,
 * and a person may have to agree first. */
static inline bool link_is_securing(const struct link *link)
{
    return link->operations->is_securing != NULL && link->operations->is_securing(link);
}

/* What the PDUs travel on, for a process that is to have the link too; or -1. Borrowed. */
static inline int link_descriptor(const struct link *link, struct link_way *ret)
{
    return link->operations->descriptor != NULL ? link->operations->descriptor(link, ret) : -1;
}

static inline void link_close(struct link *link)
{
    if (link != NULL)
        link->operations->close(link);
}

#endif
