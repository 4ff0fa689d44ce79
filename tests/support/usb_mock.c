#include "support/usb_mock.h"

#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/ioctl.h>

#include <linux/usbdevice_fs.h>
#include <umockdev.h>

#define TRANSFERS_MAX 32
/* The node is always ready for poll(2), so that who waits for it would spin. */
#define IDLE_US 1000u
/* What the kernel waits for an answer to USBDEVFS_CLEAR_HALT, and nobody has the device meanwhile
 * (Linux, USB_CTRL_SET_TIMEOUT). */
#define CLEAR_US 5000000u

struct mocked {
    struct usb_mock_device device;
    GMutex lock;
    UMockdevIoctlBase *handler;
    UMockdevIoctlData *flying[TRANSFERS_MAX]; /* oldest first */
    UMockdevIoctlData *cancelled[TRANSFERS_MAX];
    size_t flying_count, cancelled_count;
    bool is_gone, is_taken, driver_is_bound; /* taken by whoever opened the node last */
    bool is_halted[2];                       /* OUT and IN, until that is cleared */
    struct usb_counts counts;
    char node[32], sysfs[64];
};

struct usb_mock {
    UMockdevTestbed *testbed;
    struct mocked devices[USB_MOCK_DEVICES_MAX];
    int count;
};

/* ---- transfers ---- */

static struct usbdevfs_urb *urb_of(UMockdevIoctlData *data)
{
    return (struct usbdevfs_urb *)(void *)data->data;
}

static UMockdevIoctlData *take_out(UMockdevIoctlData **list, size_t *count, size_t at)
{
    UMockdevIoctlData *data = list[at];
    (*count)--;
    memmove(&list[at], &list[at + 1], (*count - at) * sizeof list[0]);
    return data;
}

/* CLEAR_FEATURE(ENDPOINT_HALT), USB 2.0, 9.4.1: nothing else is asked of a device here. */
static bool is_clearing(unsigned type, unsigned request, unsigned value)
{
    return type == 0x02 && request == 1 && value == 0;
}

/* Said to the device alone: the kernel's half of the pipe stays halted. */
static bool serve_setup(const struct mocked *mocked, struct usbdevfs_urb *urb)
{
    const uint8_t *setup = urb->buffer;

    urb->status =
        is_clearing(setup[0], setup[1], setup[2]) && mocked->device.clear_error == 0 ? 0 : -EPIPE;
    urb->actual_length = 0;
    return !mocked->device.ignores_clearing;
}

/* Whether the model has done with it. */
static bool serve(struct mocked *mocked, struct usbdevfs_urb *urb)
{
    const struct usb_model *model = &mocked->device.model;
    bool *is_halted = &mocked->is_halted[(urb->endpoint & 0x80) != 0];
    int done = USB_MOCK_LATER;

    if (*is_halted)
        return false;
    if ((urb->endpoint & 0x80) != 0 && model->give != NULL)
        done = model->give(model->user, urb->buffer, urb->buffer_length);
    else if ((urb->endpoint & 0x80) == 0 && model->take != NULL)
        done = model->take(model->user, urb->buffer, urb->buffer_length);
    if (done == USB_MOCK_LATER)
        return false;
    *is_halted = done == -EPIPE;
    urb->status = done < 0 ? done : 0;
    urb->actual_length = done < 0 ? 0 : done;
    return true;
}

/* A pipe that is halted, or waits, holds back what is behind. */
static UMockdevIoctlData *next_done(struct mocked *mocked)
{
    bool waits[2] = {false, false};

    if (mocked->cancelled_count > 0) {
        UMockdevIoctlData *data = take_out(mocked->cancelled, &mocked->cancelled_count, 0);
        urb_of(data)->status = -ENOENT;
        urb_of(data)->actual_length = 0;
        return data;
    }
    for (size_t i = 0; i < mocked->flying_count; i++) {
        struct usbdevfs_urb *urb = urb_of(mocked->flying[i]);
        bool *its_waits = &waits[(urb->endpoint & 0x80) != 0];
        if (mocked->is_gone || mocked->is_taken)
            urb->status = -ESHUTDOWN;
        else if (urb->type == USBDEVFS_URB_TYPE_CONTROL) {
            if (!serve_setup(mocked, urb))
                continue;
        } else if (*its_waits || !serve(mocked, urb)) {
            *its_waits = true;
            continue;
        }
        mocked->counts.in_flight--;
        return take_out(mocked->flying, &mocked->flying_count, i);
    }
    return NULL;
}

/* 0, or an errno. */
static int submit(struct mocked *mocked, UMockdevIoctlData *argument)
{
    if (mocked->is_gone)
        return ENODEV;
    if (mocked->is_taken)
        return EBUSY;
    if (mocked->device.submit_error != 0)
        return mocked->device.submit_error;
    if (mocked->flying_count == TRANSFERS_MAX)
        return ENOMEM;
    UMockdevIoctlData *data =
        umockdev_ioctl_data_resolve(argument, 0, sizeof(struct usbdevfs_urb), NULL);
    UMockdevIoctlData *octets =
        umockdev_ioctl_data_resolve(data, G_STRUCT_OFFSET(struct usbdevfs_urb, buffer),
                                    (gsize)urb_of(data)->buffer_length, NULL);
    if (octets != NULL)
        umockdev_ioctl_data_unref(octets);
    mocked->flying[mocked->flying_count++] = data;
    if (++mocked->counts.in_flight > mocked->counts.in_flight_most)
        mocked->counts.in_flight_most = mocked->counts.in_flight;
    return 0;
}

static int discard(struct mocked *mocked, gulong address)
{
    for (size_t i = 0; i < mocked->flying_count; i++)
        if (mocked->flying[i]->client_addr == address) {
            mocked->cancelled[mocked->cancelled_count++] =
                take_out(mocked->flying, &mocked->flying_count, i);
            mocked->counts.in_flight--;
            mocked->counts.cancelled++;
            return 0;
        }
    return EINVAL;
}

static int reap(struct mocked *mocked, UMockdevIoctlData *argument)
{
    UMockdevIoctlData *data = next_done(mocked);

    if (data == NULL)
        return mocked->is_gone ? ENODEV : EAGAIN;
    UMockdevIoctlData *pointer = umockdev_ioctl_data_resolve(argument, 0, sizeof(gpointer), NULL);
    umockdev_ioctl_data_set_ptr(pointer, 0, data);
    umockdev_ioctl_data_unref(pointer);
    umockdev_ioctl_data_unref(data);
    return 0;
}

/* One that its program waits for, which here does not take as long as it would. 0, or an errno. */
static int transfer(struct mocked *mocked, UMockdevIoctlData *argument, int *ret_count)
{
    UMockdevIoctlData *data =
        umockdev_ioctl_data_resolve(argument, 0, sizeof(struct usbdevfs_bulktransfer), NULL);
    struct usbdevfs_bulktransfer bulk;

    memcpy(&bulk, data->data, sizeof bulk);
    UMockdevIoctlData *octets = umockdev_ioctl_data_resolve(
        data, G_STRUCT_OFFSET(struct usbdevfs_bulktransfer, data), bulk.len, NULL);
    struct usbdevfs_urb urb = {
        .endpoint = (unsigned char)bulk.ep, .buffer = octets->data, .buffer_length = (int)bulk.len};
    int error = mocked->is_halted[(bulk.ep & 0x80) != 0] ? EPIPE : ETIMEDOUT;
    if (mocked->is_gone)
        error = ENODEV;
    else if (serve(mocked, &urb))
        error = -urb.status;
    *ret_count = urb.actual_length;
    if (error == ETIMEDOUT)
        g_usleep(IDLE_US);
    umockdev_ioctl_data_unref(octets);
    umockdev_ioctl_data_unref(data);
    return error;
}

/* ---- the rest of what a kernel is asked ---- */

static void tell_capabilities(UMockdevIoctlData *argument)
{
    UMockdevIoctlData *word = umockdev_ioctl_data_resolve(argument, 0, sizeof(guint32), NULL);
    const guint32 capabilities = USBDEVFS_CAP_ZERO_PACKET | USBDEVFS_CAP_BULK_CONTINUATION |
                                 USBDEVFS_CAP_NO_PACKET_SIZE_LIM |
                                 USBDEVFS_CAP_REAP_AFTER_DISCONNECT;
    memcpy(word->data, &capabilities, sizeof capabilities);
    umockdev_ioctl_data_unref(word);
}

static int claim(struct mocked *mocked)
{
    if (mocked->device.claim_error != 0)
        return mocked->device.claim_error;
    if (mocked->driver_is_bound)
        return EBUSY;
    mocked->counts.claims++;
    return 0;
}

static int clear(struct mocked *mocked, unsigned endpoint)
{
    mocked->counts.halts_cleared++;
    if (mocked->device.ignores_clearing) {
        g_usleep(CLEAR_US);
        return ETIMEDOUT;
    }
    if (mocked->device.clear_error == 0)
        mocked->is_halted[(endpoint & 0x80) != 0] = false;
    return mocked->device.clear_error;
}

static int clear_halt(struct mocked *mocked, UMockdevIoctlData *argument)
{
    UMockdevIoctlData *word = umockdev_ioctl_data_resolve(argument, 0, sizeof(guint32), NULL);
    guint32 endpoint;

    memcpy(&endpoint, word->data, sizeof endpoint);
    umockdev_ioctl_data_unref(word);
    return clear(mocked, endpoint);
}

static int control(struct mocked *mocked, UMockdevIoctlData *argument)
{
    UMockdevIoctlData *data =
        umockdev_ioctl_data_resolve(argument, 0, sizeof(struct usbdevfs_ctrltransfer), NULL);
    struct usbdevfs_ctrltransfer asked;

    memcpy(&asked, data->data, sizeof asked);
    umockdev_ioctl_data_unref(data);
    if (!is_clearing(asked.bRequestType, asked.bRequest, asked.wValue))
        return EPIPE;
    return mocked->is_gone ? ENODEV : clear(mocked, asked.wIndex);
}

/* Without a flag, from anybody (Linux, drivers/usb/core/devio.c, proc_disconnect_claim()). */
static int disconnect_and_claim(struct mocked *mocked, UMockdevIoctlData *argument)
{
    UMockdevIoctlData *data =
        umockdev_ioctl_data_resolve(argument, 0, sizeof(struct usbdevfs_disconnect_claim), NULL);
    struct usbdevfs_disconnect_claim asked;

    memcpy(&asked, data->data, sizeof asked);
    umockdev_ioctl_data_unref(data);
    if (mocked->is_gone)
        return ENODEV;
    mocked->is_taken = asked.flags == 0;
    mocked->counts.driver_detached += mocked->driver_is_bound;
    mocked->driver_is_bound = false;
    return claim(mocked);
}

static int change_driver(struct mocked *mocked, UMockdevIoctlData *argument)
{
    UMockdevIoctlData *data =
        umockdev_ioctl_data_resolve(argument, 0, sizeof(struct usbdevfs_ioctl), NULL);
    struct usbdevfs_ioctl command;

    memcpy(&command, data->data, sizeof command);
    umockdev_ioctl_data_unref(data);
    if (command.ioctl_code == (int)USBDEVFS_DISCONNECT) {
        if (!mocked->driver_is_bound)
            return ENODATA;
        mocked->driver_is_bound = false;
        mocked->counts.driver_detached++;
        return 0;
    }
    mocked->driver_is_bound = mocked->device.is_held_by_kernel;
    mocked->counts.driver_attached += mocked->driver_is_bound;
    return 0;
}

/* 0, an errno, or -1: not known here. */
static int answer(struct mocked *mocked, gulong request, UMockdevIoctlData *argument,
                  int *ret_count)
{
    switch (request) {
    case USBDEVFS_GET_CAPABILITIES: tell_capabilities(argument); return 0;
    case USBDEVFS_CLAIMINTERFACE: return claim(mocked);
    case USBDEVFS_DISCONNECT_CLAIM: return disconnect_and_claim(mocked, argument);
    case USBDEVFS_RELEASEINTERFACE: mocked->counts.releases++; return 0;
    case USBDEVFS_IOCTL: return change_driver(mocked, argument);
    case USBDEVFS_GETDRIVER: return mocked->driver_is_bound ? 0 : ENODATA;
    case USBDEVFS_CLEAR_HALT: return clear_halt(mocked, argument);
    case USBDEVFS_BULK: return transfer(mocked, argument, ret_count);
    case USBDEVFS_CONTROL: return control(mocked, argument);
    case USBDEVFS_RESETEP: return 0;
    case USBDEVFS_RESET: mocked->counts.resets++; return 0;
    case USBDEVFS_SUBMITURB: return submit(mocked, argument);
    case USBDEVFS_DISCARDURB: return discard(mocked, *(gulong *)(void *)argument->data);
    case USBDEVFS_REAPURB:
    case USBDEVFS_REAPURBNDELAY: return reap(mocked, argument);
    default: return -1;
    }
}

static gboolean on_ioctl(UMockdevIoctlBase *base, UMockdevIoctlClient *client, gpointer user)
{
    struct mocked *mocked = user;
    int count = 0;

    (void)base;
    g_mutex_lock(&mocked->lock);
    const int error = answer(mocked, umockdev_ioctl_client_get_request(client),
                             umockdev_ioctl_client_get_arg(client), &count);
    g_mutex_unlock(&mocked->lock);
    if (error < 0)
        return FALSE;
    if (error == EAGAIN)
        g_usleep(IDLE_US);
    umockdev_ioctl_client_complete(client, error == 0 ? count : -1, error);
    return TRUE;
}

/* ---- plugging in and out ---- */

static void insist(gboolean well, GError *error)
{
    if (well)
        return;
    (void)fprintf(stderr, "umockdev: %s\n", error != NULL ? error->message : "failed");
    abort();
}

/* USB 2.0, 9.6: device, configuration, interface, and its two endpoints. */
static void write_descriptors(const struct usb_mock_device *device, char *ret, size_t size)
{
    const unsigned packet = device->packet_size != 0 ? device->packet_size : 64;
    const unsigned ends = device->has_no_pipes ? 0 : 2;
    char pipes[64] = "";

    if (ends > 0)
        (void)snprintf(pipes, sizeof pipes,
                       "07058102%02X%02X00"
                       "07050102%02X%02X00",
                       packet & 255, packet >> 8, packet & 255, packet >> 8);
    (void)snprintf(ret, size,
                   "12010002%02X%02X%02X40%02X%02X%02X%02X000100000001"
                   "0902%02X00010100A032"
                   "09040000%02XFF000000%s",
                   device->class_code, device->subclass, device->protocol, device->vendor & 255,
                   device->vendor >> 8, device->product & 255, device->product >> 8, 18 + 7 * ends,
                   ends, pipes);
}

static void add_to_testbed(struct usb_mock *mock, struct mocked *mocked)
{
    const struct usb_mock_device *device = &mocked->device;
    char descriptors[160], text[1024];
    GError *error = NULL;

    write_descriptors(device, descriptors, sizeof descriptors);
    (void)snprintf(text, sizeof text,
                   "P: /devices/pci0000:00/0000:00:14.0/usb%u/%u-%u\nN: bus/usb/%03u/%03u\n"
                   "E: DEVNAME=%s\nE: DEVTYPE=usb_device\nE: SUBSYSTEM=usb\nE: BUSNUM=%03u\n"
                   "E: DEVNUM=%03u\nE: MAJOR=189\nE: MINOR=%u\nA: busnum=%u\\n\nA: devnum=%u\\n\n"
                   "A: speed=12\\n\nA: bConfigurationValue=1\\n\nA: idVendor=%04x\\n\n"
                   "A: idProduct=%04x\\n\nH: descriptors=%s\n",
                   device->bus, device->bus, device->port, device->bus, device->port, mocked->node,
                   device->bus, device->port, 128 * (device->bus - 1) + device->port - 1,
                   device->bus, device->port, device->vendor, device->product, descriptors);
    insist(umockdev_testbed_attach_ioctl(mock->testbed, mocked->node, mocked->handler, &error),
           error);
    insist(umockdev_testbed_add_from_string(mock->testbed, text, &error), error);
    umockdev_testbed_uevent(mock->testbed, mocked->sysfs, "add");
}

int usb_mock_plug(struct usb_mock *mock, const struct usb_mock_device *device)
{
    if (mock->count == USB_MOCK_DEVICES_MAX)
        abort();
    struct mocked *mocked = &mock->devices[mock->count];
    *mocked = (struct mocked){.device = *device, .driver_is_bound = device->is_held_by_kernel};
    g_mutex_init(&mocked->lock);
    (void)snprintf(mocked->node, sizeof mocked->node, "/dev/bus/usb/%03u/%03u", device->bus,
                   device->port);
    (void)snprintf(mocked->sysfs, sizeof mocked->sysfs,
                   "/sys/devices/pci0000:00/0000:00:14.0/usb%u/%u-%u", device->bus, device->bus,
                   device->port);
    mocked->handler = umockdev_ioctl_base_new();
    g_signal_connect_after(mocked->handler, "handle-ioctl", G_CALLBACK(on_ioctl), mocked);
    add_to_testbed(mock, mocked);
    return mock->count++;
}

void usb_mock_unplug(struct usb_mock *mock, int number)
{
    struct mocked *mocked = &mock->devices[number];
    GError *error = NULL;

    usb_mock_lock(mock, number);
    mocked->is_gone = true;
    usb_mock_unlock(mock, number);
    umockdev_testbed_uevent(mock->testbed, mocked->sysfs, "remove");
    umockdev_testbed_remove_device(mock->testbed, mocked->sysfs);
    insist(umockdev_testbed_detach_ioctl(mock->testbed, mocked->node, &error), error);
}

void usb_mock_make_adapter(struct usb_mock *mock, int number, unsigned index)
{
    const struct mocked *mocked = &mock->devices[number];
    const char *name = strrchr(mocked->sysfs, '/') + 1;
    char interface[96], text[512];
    GError *error = NULL;

    (void)snprintf(interface, sizeof interface, "%s/%s:1.0", mocked->sysfs + strlen("/sys"), name);
    (void)snprintf(text, sizeof text,
                   "P: %s\nE: DEVTYPE=usb_interface\nE: SUBSYSTEM=usb\n\n"
                   "P: %s/bluetooth/hci%u\nE: SUBSYSTEM=bluetooth\nL: device=../../../%s:1.0\n",
                   interface, interface, index, name);
    insist(umockdev_testbed_add_from_string(mock->testbed, text, &error), error);
}

struct usb_counts usb_mock_counts(struct usb_mock *mock, int number)
{
    usb_mock_lock(mock, number);
    const struct usb_counts counts = mock->devices[number].counts;
    usb_mock_unlock(mock, number);
    return counts;
}

void usb_mock_lock(struct usb_mock *mock, int number)
{
    g_mutex_lock(&mock->devices[number].lock);
}

void usb_mock_unlock(struct usb_mock *mock, int number)
{
    g_mutex_unlock(&mock->devices[number].lock);
}

struct usb_mock *usb_mock_new(void)
{
    struct usb_mock *mock = g_new0(struct usb_mock, 1);
    const char *folder = getenv("TMPDIR");
    char *kept = folder != NULL ? strdup(folder) : NULL;

    /* umockdev's sockets have long names, and a socket's is short. */
    (void)setenv("TMPDIR", "/tmp", 1);
    mock->testbed = umockdev_testbed_new();
    if (kept != NULL)
        (void)setenv("TMPDIR", kept, 1);
    else
        (void)unsetenv("TMPDIR");
    free(kept);
    return mock;
}

void usb_mock_free(struct usb_mock *mock)
{
    for (int i = 0; i < mock->count; i++)
        if (!mock->devices[i].is_gone)
            usb_mock_unplug(mock, i);
    for (int i = 0; i < mock->count; i++)
        g_object_unref(mock->devices[i].handler);
    g_object_unref(mock->testbed);
    g_free(mock);
}
