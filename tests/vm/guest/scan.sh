# shellcheck shell=sh
# What the cases of discovery share; read after lib.sh.

# says WHAT PATTERN TEXT: counts in `failures`, which the case sets to 0.
says()
{
    if echo "$3" | grep -Eq "$2"; then
        echo "ok: $1"
    else
        echo "FAILED: $1: no '$2' in:"
        echo "$3"
        failures=$((failures + 1))
    fi
}

# search PATTERN COMMAND...: what the rider's command says is in `found`. btvirt reports a device
# once a search and once when it begins to advertise, where the air would repeat it, and bluetoothd
# may miss the first; so it begins again and again.
search()
{
    pattern=$1
    shift
    for _ in 1 2 3 4; do
        (
            for _ in 1 2 3; do
                sleep 1
                manage --index 1 rm-adv 1
                advertise 1
            done
        ) > /dev/null &
        found=$(as_rider "$@" 2>&1)
        wait $!
        if echo "$found" | grep -Eq "$pattern"; then break; fi
    done
}

# advertise INDEX: a bike that is free and a strap in one, its name in the scan response.
advertise()
{
    manage --index "$1" add-adv -c -d 020106050326180d1806162618012000 -s 0609426963696b 1
}

mkdir "$HOME/bin"
