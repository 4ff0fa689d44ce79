# shellcheck shell=sh
# What guest scripts share; read by `. "$TREE/tests/vm/guest/lib.sh"`.

# The verdict of a case that cannot be tried here.
skip()
{
    echo "$1"
    exit 77
}

uptime_s()
{
    read -r now _ < /proc/uptime
    echo "${now%.*}"
}

# await SECONDS COMMAND...: runs it again and again until it succeeds.
await()
{
    give_up=$(($(uptime_s) + $1))
    shift
    while ! "$@" > /dev/null 2>&1; do
        if [ "$(uptime_s)" -ge "$give_up" ]; then
            echo "waited in vain for: $*"
            return 1
        fi
        sleep 0.1
    done
}

# as_rider COMMAND...: as an ordinary user without any capability, in a home of his own.
as_rider()
{
    setpriv --reuid=65534 --regid=65534 --clear-groups --bounding-set=-all env HOME=/run/rider \
        XDG_DATA_HOME=/run/rider/data XDG_CONFIG_HOME=/run/rider/config "$@"
}

# The order is that in which it works: with bluetooth before ecdh_generic no controller comes up.
load_bluetooth()
{
    for module in drbg ansi_cprng cmac ecb aes_generic hmac sha256_generic ecdh_generic af_alg \
        algif_hash algif_skcipher bluetooth hci_vhci; do
        modprobe "$module" || return 1
    done
}

# btmgmt wants a terminal or it waits for ever, and a closed one ends it before the answer.
manage()
{
    script -qec "timeout 20 btmgmt $*" /dev/null < /dev/null | tr -d '\r'
}

# controller_address hciN
controller_address()
{
    manage --index "${1#hci}" info | sed -n 's/.*addr \([0-9A-F:]*\).*/\1/p'
}

# has_no_link INDEX
has_no_link()
{
    ! manage --index "$1" con | grep -q type
}

# numbers COUNT: 0 1 2 and so on
numbers()
{
    seq 0 $(($1 - 1))
}

# A controller is there before the kernel has set it up and lets it be managed.
are_managed()
{
    for number in $(numbers "$1"); do
        [ -n "$(controller_address "hci$number")" ] || return 1
    done
}

# On a busy host the kernel now and then gives up a controller that does not answer its first
# command in time, for good; then both are made anew.
start_emulator()
{
    for _ in 1 2 3 4; do
        btvirt "-l$1" > "$OUT/btvirt" 2>&1 &
        emulator=$!
        if await 20 are_managed "$1"; then return 0; fi
        kill "$emulator"
        wait "$emulator"
    done
    return 1
}

# start_controllers [COUNT]: hci0, hci1 and so on (2) in one radio space, Low Energy on, powered; no
# daemon.
start_controllers()
{
    load_bluetooth && start_emulator "${1:-2}" || return 1
    for index in $(numbers "${1:-2}"); do
        for setting in 'power off' 'le on' 'connectable on' 'power on'; do
            manage --index "$index" "$setting"
        done
    done
}

has_bluetoothd()
{
    dbus-send --system --print-reply --dest=org.freedesktop.DBus / \
        org.freedesktop.DBus.NameHasOwner string:org.bluez | grep -q 'boolean true'
}

# start_bluetoothd [OPTIONS]: the daemon and its bus; start the controllers first.
start_bluetoothd()
{
    dbus-daemon --system --fork || return 1
    /usr/libexec/bluetooth/bluetoothd -E -d -n "$@" > "$OUT/bluetoothd" 2>&1 &
    await 60 has_bluetoothd && await 60 has_taken hci0 && await 60 has_taken hci1
}

# has_taken hciN: bluetoothd takes an adapter over after the other, and then ends what is advertised
# there.
has_taken()
{
    dbus-send --system --print-reply --dest=org.bluez "/org/bluez/$1" \
        org.freedesktop.DBus.Introspectable.Introspect | grep -q GattManager1
}
