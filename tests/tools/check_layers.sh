#!/bin/sh
# Refuses an include that the table of rooms in DEVELOPERS.md does not allow.
# A source may include its own room's private headers, named without a room.
set -eu
allowed()
{
    case $1 in
    base) echo base ;;
    wire) echo base wire ;;
    body) echo base body ;;
    ride) echo base body ride ;;
    text) echo base body ride text ;;
    port) echo base body ride port ;;
    io) echo base wire body ride text port ui io ;;
    ui) echo base body ride text port ui ;;
    app) echo base wire body ride text port io ui app ;;
    *) echo "" ;;
    esac
}
status=0
for file in $(find src include -name '*.[ch]' | sort); do
    room=$(echo "$file" | cut -d/ -f2)
    may=" $(allowed "$room") "
    if [ "$may" = "  " ]; then
        echo "$file: there is no room '$room'; see check_layers.sh and DEVELOPERS.md" >&2
        status=1
    fi
    # shellcheck disable=SC2013 # words on purpose
    for other in $(sed -n 's/^#include "\([a-z_]*\)\/.*/\1/p' "$file" | sort -u); do
        case $may in
        *" $other "*) ;;
        *)
            [ "$other" = embedded ] && [ "$room" = io ] && continue
            echo "$file: $room may not know $other" >&2
            status=1
            ;;
        esac
    done
done
exit $status
