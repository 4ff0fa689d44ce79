#include "handles_file.h"

#include <fcntl.h>
#include <limits.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>

#include <zlib.h>

#include "app/command.h"
#include "base/bytes.h"

/* Behind the octets, so that a handle that rotted on the disk is not written to. */
#define CHECK_OCTETS    4u
#define FILE_OCTETS_MAX (GATT_KNOWN_OCTETS_MAX + CHECK_OCTETS)

struct kept {
    uint8_t octets[FILE_OCTETS_MAX + 1]; /* one more, so that a longer file shows */
    size_t length;
};

static bool path_for(const struct device_address *device, char *ret, size_t size)
{
    char name[40];
    struct text_writer writer = text_writer(name, sizeof name);

    text_put(&writer, "handles-");
    device_address_put(&writer, device);
    return cache_path(name, ret, size);
}

/* 0 when there is no such file, or it holds too much. Not waited for, whatever has the name. */
static size_t read_kept(const char *path, struct kept *ret)
{
    const int fd = open(path, O_RDONLY | O_CLOEXEC | O_NONBLOCK);

    if (fd < 0)
        return 0;
    const ssize_t length = read(fd, ret->octets, sizeof ret->octets);
    (void)close(fd);
    return length < 0 || (size_t)length > FILE_OCTETS_MAX ? 0 : (size_t)length;
}

static uint32_t check_of(const uint8_t *octets, size_t length)
{
    return (uint32_t)crc32(crc32(0, NULL, 0), octets, (uInt)length);
}

void load_handles(const struct device_address *device, struct gatt_known *ret)
{
    char path[PATH_MAX];
    struct kept kept;

    *ret = (struct gatt_known){0};
    if (!path_for(device, path, sizeof path))
        return;
    kept.length = read_kept(path, &kept);
    if (kept.length < CHECK_OCTETS)
        return;
    const size_t length = kept.length - CHECK_OCTETS;
    struct bytes_reader check = bytes_reader(kept.octets + length, CHECK_OCTETS);
    if (bytes_u32(&check) == check_of(kept.octets, length))
        (void)!gatt_known_decode(kept.octets, length, ret);
}

static size_t make_kept(const struct gatt_known *known, struct kept *ret)
{
    const size_t length = gatt_known_encode(known, ret->octets);
    struct bytes_writer writer = bytes_writer(ret->octets + length, CHECK_OCTETS);

    bytes_put_u32(&writer, check_of(ret->octets, length));
    return length == 0 ? 0 : length + CHECK_OCTETS;
}

void save_handles(const struct device_address *device, const struct gatt_known *known)
{
    char path[PATH_MAX];
    struct kept fresh, old;

    fresh.length = make_kept(known, &fresh);
    if (fresh.length == 0 || !path_for(device, path, sizeof path))
        return;
    old.length = read_kept(path, &old);
    if (old.length == fresh.length && memcmp(old.octets, fresh.octets, old.length) == 0)
        return;
    /* Where it cannot be kept, the next ride begins a little later. */
    (void)!write_kept_file(path, fresh.octets, fresh.length);
}
