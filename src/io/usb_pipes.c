#include "usb_pipes.h"

#include <string.h>

/* Receivers take a command within a millisecond or two (common practice). libusb's timer for this
 * is one of its descriptors. */
#define WRITE_LIMIT_MS 1000u
/* A pipe that stalls or breaks off oftener than this in a row is given up. A receiver that is
 * pulled out breaks off until the kernel has noticed: longer than one pause, shorter than all of
 * them (hubs are asked every 255 ms at the slowest; USB 2.0, 11.12.4). */
#define FAILURES_MAX 5u
#define PAUSE_MS     100u
/* A request without data is answered within 50 ms (USB 2.0, 9.2.6.4). */
#define CLEAR_LIMIT_MS 250u
#define ENDPOINT_HALT  0 /* USB 2.0, table 9-6 */
/* For the kernel to give back what was cancelled; it does so at once. */
#define SETTLE_TRIES 50
#define SETTLE_US    2000

static void LIBUSB_CALL on_transferred(struct libusb_transfer *transfer)
{
    struct usb_slot *slot = transfer->user_data;
    slot->state = SLOT_DONE;
}

static int submit(struct usb_slot *slot)
{
    const int error = libusb_submit_transfer(slot->transfer);
    if (error == LIBUSB_SUCCESS)
        slot->state = SLOT_FLYING;
    return error;
}

static void cancel(struct usb_slot *slot)
{
    if (slot->state == SLOT_FLYING)
        (void)libusb_cancel_transfer(slot->transfer);
}

static void cancel_reads(struct link_usb *usb)
{
    for (unsigned i = 0; i < USB_READS; i++)
        cancel(&usb->reads[i]);
}

/* How libusb_submit_transfer() would have said it. */
static int error_of(enum libusb_transfer_status status)
{
    switch (status) {
    case LIBUSB_TRANSFER_COMPLETED: return LIBUSB_SUCCESS;
    case LIBUSB_TRANSFER_STALL: return LIBUSB_ERROR_PIPE;
    case LIBUSB_TRANSFER_NO_DEVICE: return LIBUSB_ERROR_NO_DEVICE;
    case LIBUSB_TRANSFER_TIMED_OUT: return LIBUSB_ERROR_TIMEOUT;
    case LIBUSB_TRANSFER_CANCELLED: return LIBUSB_ERROR_INTERRUPTED;
    case LIBUSB_TRANSFER_OVERFLOW: return LIBUSB_ERROR_OVERFLOW;
    case LIBUSB_TRANSFER_ERROR: break;
    }
    return LIBUSB_ERROR_IO;
}

static void count_failure(struct link_usb *usb, struct usb_pipe *pipe, int error)
{
    pipe->failures++;
    if (error == LIBUSB_ERROR_NO_DEVICE)
        usb->why = usb_device_words(error);
    else if (error == LIBUSB_ERROR_TIMEOUT)
        usb->why = "the receiver takes nothing any more; unplug it and plug it in again";
    else if (pipe->failures > FAILURES_MAX)
        usb->why = "the receiver's transfers break off; try another port, without a hub or a long "
                   "cable";
}

/* The pipe is to be set going again, or the link to end. What was in flight with the first that
 * failed fails with it. */
static void fail(struct link_usb *usb, struct usb_pipe *pipe, int error)
{
    if (!pipe->is_recovering || error == LIBUSB_ERROR_NO_DEVICE)
        count_failure(usb, pipe, error);
    pipe->is_recovering = true;
    pipe->is_halted = pipe->is_halted || error == LIBUSB_ERROR_PIPE;
}

/* The kernel's own call waits for 5 s where the receiver ignores it, and nobody else has the device
 * meanwhile, not even the guard. So the receiver is asked beforehand, which waits for nothing: one
 * that has just answered that answers the kernel at once. */
static bool clear_halt(struct link_usb *usb, struct usb_pipe *pipe, uint8_t endpoint)
{
    struct usb_slot *clear = &pipe->clear;
    int error;

    if (clear->state == SLOT_IDLE) {
        error = submit(clear);
    } else {
        clear->state = SLOT_IDLE;
        error = error_of(clear->transfer->status);
        if (error == LIBUSB_SUCCESS)
            error = libusb_clear_halt(usb->device.handle, endpoint);
    }
    if (error != LIBUSB_SUCCESS)
        count_failure(usb, pipe, error);
    return error == LIBUSB_SUCCESS && clear->state == SLOT_IDLE;
}

/* Nothing of the pipe is in flight. True: it may be tried again; else this is called again. */
static bool recover(struct link_usb *usb, struct usb_pipe *pipe, uint8_t endpoint,
                    loop_timer_func *then)
{
    if (pipe->timer != 0 || pipe->clear.state == SLOT_FLYING)
        return false;
    if (pipe->is_halted ? clear_halt(usb, pipe, endpoint) : pipe->has_paused) {
        pipe->is_halted = pipe->is_recovering = pipe->has_paused = false;
        return true;
    }
    if (pipe->clear.state == SLOT_FLYING)
        return false;
    pipe->timer = loop_set_timer(usb->loop, loop_now_ms(usb->loop) + PAUSE_MS, then, usb);
    if (pipe->timer == 0)
        usb->why = usb_device_words(LIBUSB_ERROR_NO_MEM);
    return false;
}

/* ---- reading ---- */

void usb_submit_reads(struct link_usb *usb)
{
    usb->first_read = 0;
    for (unsigned i = 0; i < USB_READS && !usb->in.is_recovering; i++) {
        const int error = submit(&usb->reads[i]);
        if (error != LIBUSB_SUCCESS)
            fail(usb, &usb->in, error);
    }
}

static void deliver(struct link_usb *usb, const struct usb_slot *slot)
{
    const int length = slot->transfer->actual_length;

    if (length <= 0)
        return;
    usb->in.failures = 0;
    usb->user.received(usb->user.user, slot->octets, (size_t)length);
}

static void take_read(struct link_usb *usb, struct usb_slot *slot)
{
    int error = error_of(slot->transfer->status);

    slot->state = SLOT_IDLE;
    if (error == LIBUSB_SUCCESS && slot->transfer->actual_length > USB_READ_SIZE)
        error = LIBUSB_ERROR_OVERFLOW;
    if (error == LIBUSB_SUCCESS)
        deliver(usb, slot);
    if (error == LIBUSB_SUCCESS && !usb->in.is_recovering && !usb->is_closed)
        error = submit(slot);
    /* Interrupted: by cancelling, which has its reason already. */
    if (error != LIBUSB_SUCCESS && error != LIBUSB_ERROR_INTERRUPTED)
        fail(usb, &usb->in, error);
}

static bool reads_are_idle(const struct link_usb *usb)
{
    for (unsigned i = 0; i < USB_READS; i++)
        if (usb->reads[i].state != SLOT_IDLE)
            return false;
    return true;
}

static void read_again(void *user)
{
    struct link_usb *usb = user;
    usb->in.timer = 0;
    usb->in.has_paused = true;
    usb_go_on(usb);
}

static void take_reads(struct link_usb *usb)
{
    struct usb_slot *slot = &usb->reads[usb->first_read];

    while (slot->state == SLOT_DONE && usb->why == NULL && !usb->is_closed) {
        take_read(usb, slot);
        usb->first_read = (usb->first_read + 1) % USB_READS;
        slot = &usb->reads[usb->first_read];
    }
}

void usb_read_on(struct link_usb *usb)
{
    take_reads(usb);
    while (usb->in.is_recovering && usb->why == NULL && !usb->is_closed) {
        cancel_reads(usb);
        if (!reads_are_idle(usb) || !recover(usb, &usb->in, usb->device.in, read_again))
            return;
        usb_submit_reads(usb);
    }
}

/* ---- writing ---- */

void usb_write_first(struct link_usb *usb)
{
    const struct usb_waiting *first = &usb->waiting[usb->first_waiting];

    memcpy(usb->write.octets, first->octets, first->length);
    usb->write.transfer->length = (int)first->length;
    const int error = submit(&usb->write);
    if (error != LIBUSB_SUCCESS)
        fail(usb, &usb->out, error);
}

static void write_again(void *user)
{
    struct link_usb *usb = user;
    usb->out.timer = 0;
    usb->out.has_paused = true;
    usb_go_on(usb);
}

static void take_write(struct link_usb *usb)
{
    const struct libusb_transfer *transfer = usb->write.transfer;
    int error = error_of(transfer->status);

    usb->write.state = SLOT_IDLE;
    if (error == LIBUSB_SUCCESS && transfer->actual_length != transfer->length)
        error = LIBUSB_ERROR_IO;
    if (error != LIBUSB_SUCCESS) {
        fail(usb, &usb->out, error);
        return;
    }
    usb->out.failures = 0;
    usb->first_waiting = (usb->first_waiting + 1) % LINK_USB_QUEUE_MAX;
    usb->waiting_count--;
}

void usb_write_on(struct link_usb *usb)
{
    if (usb->write.state == SLOT_DONE)
        take_write(usb);
    while (usb->why == NULL && usb->waiting_count > 0 && usb->write.state == SLOT_IDLE) {
        if (usb->out.is_recovering && !recover(usb, &usb->out, usb->device.out, write_again))
            return;
        usb_write_first(usb);
    }
}

/* ---- beginning and end ---- */

static bool make_transfer(struct usb_slot *slot)
{
    slot->transfer = libusb_alloc_transfer(0);
    return slot->transfer != NULL;
}

/* Of a pipe that halted: to set it going again. */
static bool make_clear(struct link_usb *usb, struct usb_pipe *pipe, uint8_t endpoint)
{
    struct usb_slot *slot = &pipe->clear;

    libusb_fill_control_setup(slot->octets,
                              LIBUSB_REQUEST_TYPE_STANDARD | LIBUSB_RECIPIENT_ENDPOINT,
                              LIBUSB_REQUEST_CLEAR_FEATURE, ENDPOINT_HALT, endpoint, 0);
    if (!make_transfer(slot))
        return false;
    libusb_fill_control_transfer(slot->transfer, usb->device.handle, slot->octets, on_transferred,
                                 slot, CLEAR_LIMIT_MS);
    return true;
}

bool usb_transfers_make(struct link_usb *usb)
{
    bool made = make_clear(usb, &usb->in, usb->device.in);

    made = make_clear(usb, &usb->out, usb->device.out) && made;
    for (unsigned i = 0; i < USB_READS; i++) {
        struct usb_slot *slot = &usb->reads[i];
        made = make_transfer(slot) && made;
        if (made)
            libusb_fill_bulk_transfer(slot->transfer, usb->device.handle, usb->device.in,
                                      slot->octets, USB_READ_SIZE, on_transferred, slot, 0);
    }
    made = make_transfer(&usb->write) && made;
    if (made)
        libusb_fill_bulk_transfer(usb->write.transfer, usb->device.handle, usb->device.out,
                                  usb->write.octets, 0, on_transferred, &usb->write,
                                  WRITE_LIMIT_MS);
    return made;
}

static bool is_settled(const struct link_usb *usb)
{
    for (unsigned i = 0; i < USB_READS; i++)
        if (usb->reads[i].state == SLOT_FLYING)
            return false;
    return usb->write.state != SLOT_FLYING && usb->in.clear.state != SLOT_FLYING &&
           usb->out.clear.state != SLOT_FLYING;
}

/* Such as a release, said to a receiver that is given up. */
static void write_out(struct link_usb *usb)
{
    struct timeval pause = {0, SETTLE_US};

    for (int i = 0;
         i < SETTLE_TRIES && usb->why == NULL && usb->waiting_count > 0 && !usb->out.is_recovering;
         i++) {
        (void)libusb_handle_events_timeout_completed(usb->device.context, &pause, NULL);
        if (usb->write.state == SLOT_DONE)
            take_write(usb);
        if (usb->write.state == SLOT_IDLE && usb->waiting_count > 0 && !usb->out.is_recovering)
            usb_write_first(usb);
    }
}

void usb_transfers_end(struct link_usb *usb)
{
    struct timeval pause = {0, SETTLE_US};

    write_out(usb);
    cancel_reads(usb);
    cancel(&usb->write);
    cancel(&usb->in.clear);
    cancel(&usb->out.clear);
    for (int i = 0; i < SETTLE_TRIES && !is_settled(usb); i++)
        (void)libusb_handle_events_timeout_completed(usb->device.context, &pause, NULL);
    /* What the kernel never gave back, libusb forgets with the handle. */
    usb_device_release(&usb->device);
    for (unsigned i = 0; i < USB_READS; i++)
        libusb_free_transfer(usb->reads[i].transfer);
    libusb_free_transfer(usb->write.transfer);
    libusb_free_transfer(usb->in.clear.transfer);
    libusb_free_transfer(usb->out.clear.transfer);
    usb_device_close(&usb->device);
}
