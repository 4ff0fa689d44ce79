/* What a receiver on USB may say: octets in any split, from the first message on. */
#include "fuzz.h"
#include "wire/usb_receiver.h"

struct talk {
    struct usb_receiver receiver;
    bool failed;
};

static void check(struct talk *talk, const struct usb_receiver_event *event)
{
    FUZZ_CHECK(!talk->failed);
    FUZZ_CHECK(event->sensor < SENSOR_KIND_COUNT);
    switch (event->kind) {
    case USB_RECEIVER_READY: break;
    case USB_RECEIVER_FOUND: FUZZ_CHECK(usb_type_period(event->id.type) != 0); break;
    case USB_RECEIVER_HEART:
        FUZZ_CHECK(event->sensor == SENSOR_STRAP && event->heart_bpm > 0);
        break;
    case USB_RECEIVER_EFFORT:
        FUZZ_CHECK(event->sensor != SENSOR_STRAP);
        FUZZ_CHECK(event->effort.has_power || event->effort.has_cadence);
        FUZZ_CHECK(event->effort.power_w >= 0);
        FUZZ_CHECK(event->effort.cadence_rpm >= 0 && event->effort.cadence_rpm <= CRANK_RPM_MAX);
        break;
    case USB_RECEIVER_FAILED:
        FUZZ_CHECK(event->reason != NULL);
        talk->failed = true;
        break;
    }
}

static void drain(struct talk *talk)
{
    struct usb_receiver_event event;
    uint8_t octets[USB_FRAME_MAX];
    size_t length;

    while (usb_receiver_next_event(&talk->receiver, &event))
        check(talk, &event);
    while ((length = usb_receiver_next_octets(&talk->receiver, octets)) > 0)
        FUZZ_CHECK(length <= USB_FRAME_MAX && octets[0] == USB_SYNC && !talk->failed);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    static const struct usb_receiver_setup setup = {.is_wanted = {true, true, true}};
    static struct talk talk;
    struct bytes_reader reader = bytes_reader(data, size);
    struct fuzz_pdu pdu;
    uint64_t t_ms = 0;

    talk = (struct talk){0};
    usb_receiver_start(&talk.receiver, &setup, t_ms);
    drain(&talk);
    while (fuzz_next_pdu(&reader, &pdu)) {
        t_ms += pdu.pause_ms;
        usb_receiver_tick(&talk.receiver, t_ms);
        drain(&talk);
        usb_receiver_receive(&talk.receiver, t_ms, pdu.octets, pdu.length);
        fuzz_pdu_free(&pdu);
        drain(&talk);
    }
    return 0;
}
