#include "io/link_l2cap.h"

#include <errno.h>
#include <string.h>
#include <sys/socket.h>
#include <unistd.h>

#include <bluetooth/bluetooth.h>
#include <bluetooth/l2cap.h>

#include "link_packets.h"

/* ---- words ---- */

static const char not_heard[] =
    "it is not in reach: switch it on, turn the pedals or put the strap on, come near, and end "
    "other apps that may hold it";

/* Without the commands, which need its address: see io/dialer. */
static const char wants_pairing[] = "it wants to be paired first, with bluetoothctl";

/* What "Linux Bluetooth" (net/bluetooth/lib.c, hci_conn.c, l2cap_core.c of 6.12) answers. */
const char *link_l2cap_connect_words(int error)
{
    switch (error) {
    case EAFNOSUPPORT:
    case EPROTONOSUPPORT:
    case ESOCKTNOSUPPORT:
        return "this system has no Bluetooth: the kernel comes without it, or 'modprobe bluetooth' "
               "is needed";
    case EHOSTUNREACH:
    case ENODEV:
        return "no Bluetooth adapter is on: plug one in, or switch it on with 'bluetoothctl power "
               "on' or 'rfkill unblock bluetooth'";
    case ENETDOWN:
    case ENETUNREACH: return "the Bluetooth adapter just went off; switch it on again";
    case EOPNOTSUPP: return "the Bluetooth adapter is too old: it has no Low Energy";
    case ECONNREFUSED:
        return "Low Energy is off at the Bluetooth adapter: start the system's Bluetooth service, "
               "or 'sudo btmgmt le on'";
    case EBUSY:
        return "another program of this computer holds it: end that one, or 'bluetoothctl "
               "disconnect' and its address";
    case ETIMEDOUT: return not_heard;
    case EACCES:
    case EBADE: return wants_pairing;
    case EMLINK: return "the Bluetooth adapter holds as many devices as it can; disconnect others";
    case ENOMEM:
    case ENOBUFS: return "the system is out of memory for another Bluetooth link";
    case ENOSYS: return "the radio link failed while it was set up; come nearer";
    case ECONNRESET:
        return "it answered and ended the link at once: end other apps that may hold it, or switch "
               "it off and on";
    case ECONNABORTED:
    case ENOTCONN:
        return "this computer broke the call off: end other programs that use Bluetooth, and try "
               "again";
    default: return "the Bluetooth link could not be set up; switch the adapter off and on";
    }
}

const char *link_l2cap_lost_words(int error, bool while_securing)
{
    if (while_securing && error != ETIMEDOUT)
        return wants_pairing;
    switch (error) {
    case ETIMEDOUT: return "the radio link was lost: out of reach, or its battery is empty";
    case ECONNRESET: return "it ended the link, or the Bluetooth adapter went off";
    case ECONNABORTED:
        return "this computer ended the link: another program did, or its Bluetooth service";
    case EACCES:
    case EBADE: return wants_pairing;
    case ENODEV:
    case ENETDOWN: return "the Bluetooth adapter is gone; plug it in again";
    default: return "the radio link broke; come nearer, and keep other radios away";
    }
}

/* ---- the socket ---- */

/* The kernel gives up on its own, too, if later, and calls that a refusal. */
static const char *opening_words(int error)
{
    return link_l2cap_connect_words(error == ECONNREFUSED ? ETIMEDOUT : error);
}

/* Encrypted; a key that nobody compared is enough. Fitness Machine Profile 1.0, 6.1: mode 1 level
 * 2. */
static bool secure(int fd)
{
    const struct bt_security security = {.level = BT_SECURITY_MEDIUM};
    return setsockopt(fd, SOL_BLUETOOTH, BT_SECURITY, &security, sizeof security) == 0;
}

static bool is_secure(int fd)
{
    struct bt_security security = {0};
    socklen_t size = sizeof security;
    return getsockopt(fd, SOL_BLUETOOTH, BT_SECURITY, &security, &size) == 0 &&
           security.level >= BT_SECURITY_MEDIUM;
}

static const char *lost_words(const struct link_packets *packets)
{
    return link_l2cap_lost_words(packets->error, packets->is_securing);
}

static const struct packet_family family = {opening_words, lost_words, secure, is_secure};

static struct sockaddr_l2 channel_of(const struct device_address *device)
{
    struct sockaddr_l2 address = {.l2_family = AF_BLUETOOTH,
                                  .l2_cid = htobs(LINK_L2CAP_CHANNEL),
                                  .l2_bdaddr_type = (uint8_t)device->type};
    memcpy(&address.l2_bdaddr, device->octets, sizeof address.l2_bdaddr);
    return address;
}

/* Unbound, the kernel would take the link for one of Bluetooth classic. */
static bool bind_and_connect(int fd, const struct device_address *adapter,
                             const struct device_address *device)
{
    const struct device_address any = {.type = ADDRESS_PUBLIC};
    const struct sockaddr_l2 here = channel_of(adapter->type == ADDRESS_NONE ? &any : adapter);
    const struct sockaddr_l2 there = channel_of(device);

    return bind(fd, (const struct sockaddr *)&here, sizeof here) == 0 &&
           (connect(fd, (const struct sockaddr *)&there, sizeof there) == 0 ||
            errno == EINPROGRESS);
}

struct link *link_l2cap_connect(struct loop *loop, const struct device_address *adapter,
                                const struct device_address *address, uint64_t limit_ms,
                                const struct link_user *user, const char **ret_why)
{
    const int fd =
        socket(AF_BLUETOOTH, SOCK_SEQPACKET | SOCK_CLOEXEC | SOCK_NONBLOCK, BTPROTO_L2CAP);

    if (fd < 0) {
        *ret_why = link_l2cap_connect_words(errno);
        return NULL;
    }
    if (!bind_and_connect(fd, adapter, address)) {
        *ret_why = link_l2cap_connect_words(errno);
        (void)close(fd);
        return NULL;
    }
    struct link *link = link_packets_new(loop, fd, &family, limit_ms, user);
    if (link == NULL)
        *ret_why = "out of memory";
    return link;
}

bool link_l2cap_peer(const struct link *link, struct device_address *ret)
{
    const struct link_packets *packets = (const struct link_packets *)link;
    struct sockaddr_l2 address = {0};
    socklen_t size = sizeof address;

    if (getpeername(packets->fd, (struct sockaddr *)&address, &size) != 0 ||
        (address.l2_bdaddr_type != BDADDR_LE_PUBLIC && address.l2_bdaddr_type != BDADDR_LE_RANDOM))
        return false;
    ret->type = (enum address_type)address.l2_bdaddr_type;
    memcpy(ret->octets, &address.l2_bdaddr, sizeof ret->octets);
    return true;
}

bool link_l2cap_wants_pairing(const char *why)
{
    return why == wants_pairing;
}

bool link_l2cap_heard_nothing(const struct link *link)
{
    const struct link_packets *packets = (const struct link_packets *)link;
    return !packets->is_open && (packets->error == ETIMEDOUT || packets->error == ECONNREFUSED);
}
