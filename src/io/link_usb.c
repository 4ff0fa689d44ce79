#include "io/link_usb.h"

#include <stdlib.h>
#include <string.h>

#include "usb_pipes.h"

static struct link_usb *from_link(struct link *link)
{
    return (struct link_usb *)link;
}

/* ---- libusb's descriptors in the loop ---- */

static void on_ready(void *user, int fd, short revents);

static void LIBUSB_CALL add_descriptor(int fd, short events, void *user)
{
    struct link_usb *usb = user;
    const int id =
        usb->watch_count < USB_WATCHES_MAX ? loop_watch(usb->loop, fd, events, on_ready, usb) : 0;

    if (id == 0)
        usb->why = "too much is being listened to at once; end and begin again";
    else
        usb->watches[usb->watch_count++] = (struct usb_watch){fd, id};
}

static void LIBUSB_CALL remove_descriptor(int fd, void *user)
{
    struct link_usb *usb = user;
    size_t kept = 0;

    for (size_t i = 0; i < usb->watch_count; i++)
        if (usb->watches[i].fd == fd)
            loop_unwatch(usb->loop, usb->watches[i].id);
        else
            usb->watches[kept++] = usb->watches[i];
    usb->watch_count = kept;
}

static void watch_all(struct link_usb *usb)
{
    const struct libusb_pollfd **all = libusb_get_pollfds(usb->device.context);

    for (size_t i = 0; all != NULL && all[i] != NULL; i++)
        add_descriptor(all[i]->fd, all[i]->events, usb);
    libusb_free_pollfds(all);
    libusb_set_pollfd_notifiers(usb->device.context, add_descriptor, remove_descriptor, usb);
}

static void stop_waiting(struct link_usb *usb)
{
    libusb_set_pollfd_notifiers(usb->device.context, NULL, NULL, NULL);
    while (usb->watch_count > 0)
        loop_unwatch(usb->loop, usb->watches[--usb->watch_count].id);
    loop_cancel_timer(usb->loop, usb->timer);
    loop_cancel_timer(usb->loop, usb->in.timer);
    loop_cancel_timer(usb->loop, usb->out.timer);
    usb->timer = usb->in.timer = usb->out.timer = 0;
}

/* ---- the end ---- */

static void destroy(struct link_usb *usb)
{
    stop_waiting(usb);
    usb_transfers_end(usb);
    free(usb);
}

/* Everything that has come is dealt with here, outside of libusb: the user may close the link. */
void usb_go_on(struct link_usb *usb)
{
    usb->in_callback = true;
    if (usb->is_open && usb->why == NULL)
        usb_read_on(usb);
    if (usb->is_open && usb->why == NULL && !usb->is_closed)
        usb_write_on(usb);
    if (usb->why != NULL && !usb->is_closed) {
        usb->has_ended = true;
        stop_waiting(usb);
        usb->user.closed(usb->user.user, usb->why);
    }
    usb->in_callback = false;
    if (usb->is_closed)
        destroy(usb);
}

/* ---- from the loop ---- */

static void on_ready(void *user, int fd, short revents)
{
    struct link_usb *usb = user;
    struct timeval none = {0, 0};

    (void)fd;
    (void)revents;
    (void)libusb_handle_events_timeout_completed(usb->device.context, &none, NULL);
    usb_go_on(usb);
}

static void on_time(void *user)
{
    struct link_usb *usb = user;

    usb->timer = 0;
    if (!usb->is_open && usb->why == NULL) {
        usb->is_open = usb->in_callback = true;
        usb->user.opened(usb->user.user);
    }
    usb_go_on(usb);
}

static void soon(struct link_usb *usb)
{
    if (usb->timer == 0)
        usb->timer = loop_set_timer(usb->loop, loop_now_ms(usb->loop), on_time, usb);
}

/* ---- operations ---- */

static enum result send_octets(struct link *link, const uint8_t *pdu, size_t length)
{
    struct link_usb *usb = from_link(link);

    if (usb->has_ended || usb->why != NULL)
        return RESULT_CLOSED;
    if (length > LINK_USB_SEND_MAX)
        return RESULT_RANGE;
    if (usb->waiting_count == LINK_USB_QUEUE_MAX)
        return RESULT_FULL;
    struct usb_waiting *last =
        &usb->waiting[(usb->first_waiting + usb->waiting_count) % LINK_USB_QUEUE_MAX];
    memcpy(last->octets, pdu, length);
    last->length = length;
    if (usb->waiting_count++ == 0)
        usb_write_first(usb);
    if (usb->out.is_recovering)
        soon(usb);
    return usb->why == NULL ? RESULT_OK : RESULT_CLOSED;
}

static enum result secure(struct link *link)
{
    (void)link;
    return RESULT_UNSUPPORTED;
}

static void close_usb(struct link *link)
{
    struct link_usb *usb = from_link(link);

    if (usb->in_callback)
        usb->is_closed = true;
    else
        destroy(usb);
}

static int descriptor_of(const struct link *link, struct link_way *ret)
{
    const struct usb_device *device = &((const struct link_usb *)link)->device;

    *ret = (struct link_way){device->in_size, true, device->interface, device->in, device->out};
    return device->node;
}

static const struct link_operations operations = {send_octets, secure, close_usb, descriptor_of,
                                                  NULL};

/* ---- opening ---- */

struct link *link_usb_open(struct loop *loop, const char *place, const struct link_user *user,
                           const char **ret_why)
{
    struct link_usb *usb = calloc(1, sizeof *usb);

    if (usb == NULL)
        *ret_why = usb_device_words(LIBUSB_ERROR_NO_MEM);
    if (usb == NULL || !usb_device_open(place, &usb->device, ret_why)) {
        free(usb);
        return NULL;
    }
    usb->link.operations = &operations;
    usb->loop = loop;
    usb->user = *user;
    if (!usb_transfers_make(usb))
        usb->why = usb_device_words(LIBUSB_ERROR_NO_MEM);
    watch_all(usb);
    if (usb->why == NULL)
        usb_submit_reads(usb);
    soon(usb);
    if (usb->timer == 0)
        usb->why = usb_device_words(LIBUSB_ERROR_NO_MEM);
    if (usb->why == NULL)
        return &usb->link;
    *ret_why = usb->why;
    destroy(usb);
    return NULL;
}
