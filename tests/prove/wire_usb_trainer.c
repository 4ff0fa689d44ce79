/* A trainer behind a receiver: in any state that each call keeps, any message of its channel or of
 * another, any load and any time; and that it is in such a state again.
 * Eva: -eva-precision 1 -eva-slevel 100 -eva-split-return full
 * Eva: -eva-use-spec usb_decoder_put,usb_decoder_next */
#include "unknown.h"
#include "usb_frames.h"
#include "wire/usb_trainer.h"

/* Less than so far is counted on by a page, which is of 255 m at most. */
enum { DISTANCE_MOST_M = 10000000 + UINT8_MAX - 1 };

static struct usb_trainer trainer;
static uint8_t heard[USB_FRAME_MAX];

static struct usb_command any_command(void)
{
    return (struct usb_command){(uint8_t)any_int(0, UINT8_MAX), any_int(0, INT16_MAX)};
}

static void any_event(struct usb_trainer_event *event)
{
    *event = (struct usb_trainer_event){
        .kind = (enum usb_trainer_event_kind)any_int(0, USB_TRAINER_FAILED)};
}

/* Its counts of ends and requests may be anything: none of them is a place. */
static void any_trainer(void)
{
    MAKE_UNKNOWN(trainer.flight_until_ms);
    MAKE_UNKNOWN(trainer.flown_t_ms);
    MAKE_UNKNOWN(trainer.request_t_ms);
    MAKE_UNKNOWN(trainer.channel);
    MAKE_UNKNOWN(trainer.ends_before);
    MAKE_UNKNOWN(trainer.ends_of_it);
    MAKE_UNKNOWN(trainer.requests);
    MAKE_UNKNOWN(trainer.sequence);
    MAKE_UNKNOWN(trainer.distance_at);
    MAKE_UNKNOWN(trainer.lost_events);
    trainer.flight = (enum usb_flight)any_int(0, USB_FLIES_REQUEST);
    trainer.last_flight = (enum usb_flight)any_int(0, USB_FLIES_REQUEST);
    trainer.sent = any_command();
    trainer.next = any_command();
    trainer.last_flown = any_command();
    trainer.is_unsent = any_bool();
    trainer.waits_for_status = any_bool();
    trainer.tells_status = any_bool();
    trainer.tells_no_status = any_bool();
    trainer.asks_all_the_same = any_bool();
    trainer.has_answered = any_bool();
    trainer.is_counting = any_bool();
    trainer.is_able_known = any_bool();
    trainer.is_ready = any_bool();
    trainer.is_bike = any_bool();
    trainer.is_failed = any_bool();
    trainer.has_distance = any_bool();
    trainer.distance_m = any_int(0, DISTANCE_MOST_M);
    for (unsigned i = 0; i < USB_TRAINER_EVENTS_MAX; i++)
        any_event(&trainer.events[i]);
    trainer.first_event = (uint8_t)any_int(0, USB_TRAINER_EVENTS_MAX - 1);
    trainer.event_count = (uint8_t)any_int(0, USB_TRAINER_EVENTS_MAX);
}

static void look(void)
{
    /*@ assert trainer.first_event < USB_TRAINER_EVENTS_MAX; */
    /*@ assert trainer.event_count <= USB_TRAINER_EVENTS_MAX; */
    /*@ assert trainer.flight <= USB_FLIES_REQUEST; */
    /*@ assert 0 <= trainer.distance_m <= DISTANCE_MOST_M; */
}

static void talk(void)
{
    const struct usb_command command = any_command();
    struct usb_trainer_event event;
    uint8_t said[USB_FRAME_MAX];

    switch (any_int(0, 4)) {
    case 0:
        MAKE_UNKNOWN(heard);
        usb_trainer_receive(&trainer, any_u64(), heard, any_size(sizeof heard));
        break;
    case 1: usb_trainer_tick(&trainer, any_u64()); break;
    case 2: usb_trainer_command(&trainer, any_u64(), &command); break;
    case 3: usb_trainer_next_octets(&trainer, said); break;
    default: usb_trainer_next_event(&trainer, &event); break;
    }
}

int main(void)
{
    usb_trainer_start(&trainer, (uint8_t)any_int(0, UINT8_MAX), any_u64());
    look();
    any_trainer();
    talk();
    look();
    return 0;
}
