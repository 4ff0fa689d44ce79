/* What a receiver on USB may say: octets in any split, from the first message on. */
#include "fuzz.h"
#include "wire/usb_receiver.h"
#include "wire/usb_trainer.h"

struct talk {
    struct usb_receiver receiver;
    struct usb_trainer trainer; /* of the machine's channel */
    uint64_t t_ms;
    bool failed;
};

static void drain_trainer(struct talk *talk)
{
    static const struct usb_command load = {USB_PAGE_TARGET_POWER, 800};
    uint8_t octets[USB_FRAME_MAX];
    struct usb_trainer_event event;
    size_t length;

    while (usb_trainer_next_event(&talk->trainer, &event)) {
        FUZZ_CHECK(event.kind != USB_TRAINER_ANSWER || event.command.value == load.value);
        FUZZ_CHECK(event.data.distance_m >= 0);
        FUZZ_CHECK(event.kind != USB_TRAINER_FAILED || event.reason != NULL);
        if (event.kind == USB_TRAINER_READY)
            usb_trainer_command(&talk->trainer, talk->t_ms, &load);
    }
    while ((length = usb_trainer_next_octets(&talk->trainer, octets)) > 0)
        FUZZ_CHECK(length <= USB_FRAME_MAX && octets[0] == USB_SYNC);
}

static void check(struct talk *talk, const struct usb_receiver_event *event)
{
    uint8_t octets[USB_FRAME_MAX];

    FUZZ_CHECK(!talk->failed);
    FUZZ_CHECK(event->channel < USB_CHANNEL_COUNT);
    switch (event->kind) {
    case USB_RECEIVER_READY: break;
    case USB_RECEIVER_FOUND: FUZZ_CHECK(usb_type_period(event->id.type) != 0); break;
    case USB_RECEIVER_HEART:
        FUZZ_CHECK(event->channel == SENSOR_STRAP && event->heart_bpm > 0);
        break;
    case USB_RECEIVER_EFFORT:
        FUZZ_CHECK(event->channel == SENSOR_POWER || event->channel == SENSOR_CADENCE);
        FUZZ_CHECK(event->effort.has_power || event->effort.has_cadence);
        FUZZ_CHECK(event->effort.power_w >= 0);
        FUZZ_CHECK(event->effort.cadence_rpm >= 0 && event->effort.cadence_rpm <= CRANK_RPM_MAX);
        break;
    case USB_RECEIVER_MESSAGE:
        FUZZ_CHECK(event->frame.payload[0] == USB_CHANNEL_MACHINE);
        usb_trainer_receive(&talk->trainer, talk->t_ms, octets,
                            usb_frame_encode(&event->frame, octets));
        break;
    case USB_RECEIVER_LOST:
        usb_trainer_start(&talk->trainer, USB_CHANNEL_MACHINE, talk->t_ms);
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
    drain_trainer(talk);
    while ((length = usb_receiver_next_octets(&talk->receiver, octets)) > 0)
        FUZZ_CHECK(length <= USB_FRAME_MAX && octets[0] == USB_SYNC && !talk->failed);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    static const struct usb_receiver_setup setup = {.is_wanted = {true, true, true, true}};
    static struct talk talk;
    struct bytes_reader reader = bytes_reader(data, size);
    struct fuzz_pdu pdu;

    talk = (struct talk){0};
    usb_trainer_start(&talk.trainer, USB_CHANNEL_MACHINE, talk.t_ms);
    usb_receiver_start(&talk.receiver, &setup, talk.t_ms);
    drain(&talk);
    while (fuzz_next_pdu(&reader, &pdu)) {
        talk.t_ms += pdu.pause_ms;
        usb_receiver_tick(&talk.receiver, talk.t_ms);
        usb_trainer_tick(&talk.trainer, talk.t_ms);
        drain(&talk);
        usb_receiver_receive(&talk.receiver, talk.t_ms, pdu.octets, pdu.length);
        fuzz_pdu_free(&pdu);
        drain(&talk);
    }
    return 0;
}
