#include "io/speaker_wav.h"

#include <errno.h>
#include <fcntl.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "base/bytes.h"
#include "io/tones.h"

/* One chunk of a fixed form needs no library: "Multimedia Programming Interface and Data
 * Specifications 1.0", IBM and Microsoft 1991. Its sizes have 32 bits; that is 37 hours. */
#define HEAD_OCTETS   44u
#define SAMPLE_OCTETS 2u
#define BLOCK_SAMPLES 2048u
#define DATA_MAX      (UINT32_MAX - HEAD_OCTETS)

struct speaker_wav {
    struct speaker speaker;
    int fd;
    bool has_failed;
};

static void fail(struct speaker_wav *wav)
{
    wav->has_failed = true;
    wav->speaker.failed(wav->speaker.user, strerror(errno));
}

static bool write_at(int fd, const void *octets, size_t length, uint64_t at)
{
    size_t done = 0;

    while (done < length) {
        const ssize_t part =
            pwrite(fd, (const char *)octets + done, length - done, (off_t)(at + done));
        if (part < 0 && errno != EINTR)
            return false;
        done += part > 0 ? (size_t)part : 0;
    }
    return true;
}

static void put_name(struct bytes_writer *writer, const char *name)
{
    bytes_put(writer, (const uint8_t *)name, 4);
}

static bool write_head(int fd, uint32_t data_octets)
{
    uint8_t head[HEAD_OCTETS];
    struct bytes_writer writer = bytes_writer(head, sizeof head);

    put_name(&writer, "RIFF");
    bytes_put_u32(&writer, HEAD_OCTETS - 8 + data_octets);
    put_name(&writer, "WAVE");
    put_name(&writer, "fmt ");
    bytes_put_u32(&writer, 16);
    bytes_put_u16(&writer, 1); /* PCM */
    bytes_put_u16(&writer, 1); /* channel */
    bytes_put_u32(&writer, SPEAKER_WAV_RATE_HZ);
    bytes_put_u32(&writer, SPEAKER_WAV_RATE_HZ * SAMPLE_OCTETS);
    bytes_put_u16(&writer, SAMPLE_OCTETS);
    bytes_put_u16(&writer, 8 * SAMPLE_OCTETS);
    put_name(&writer, "data");
    bytes_put_u32(&writer, data_octets);
    return write_at(fd, head, sizeof head, 0);
}

static size_t smaller(size_t a, size_t b)
{
    return a < b ? a : b;
}

static bool write_samples(int fd, enum cue cue, int volume_pct, uint64_t at)
{
    const size_t length = tones_length(cue, SPEAKER_WAV_RATE_HZ);

    for (size_t from = 0; from < length; from += BLOCK_SAMPLES) {
        int16_t samples[BLOCK_SAMPLES];
        uint8_t octets[BLOCK_SAMPLES * SAMPLE_OCTETS];
        struct bytes_writer writer = bytes_writer(octets, sizeof octets);
        const size_t count = smaller(length - from, BLOCK_SAMPLES);

        tones_render(cue, SPEAKER_WAV_RATE_HZ, volume_pct, from, count, samples);
        for (size_t i = 0; i < count; i++)
            bytes_put_s16(&writer, samples[i]);
        if (!write_at(fd, octets, writer.length, at + from * SAMPLE_OCTETS))
            return false;
    }
    return true;
}

/* Cutting the file at the new cue drops the rest of the old one; what lies between the two reads as
 * zeros and takes no room. */
static void wav_play(struct speaker *speaker, enum cue cue, uint64_t t_ms, int volume_pct)
{
    struct speaker_wav *wav = (struct speaker_wav *)speaker;
    const uint64_t length = tones_length(cue, SPEAKER_WAV_RATE_HZ) * SAMPLE_OCTETS;
    const uint64_t data_octets = t_ms * SPEAKER_WAV_RATE_HZ / 1000 * SAMPLE_OCTETS + length;

    if (wav->has_failed || data_octets > DATA_MAX)
        return;
    if (ftruncate(wav->fd, (off_t)(HEAD_OCTETS + data_octets - length)) != 0 ||
        !write_samples(wav->fd, cue, volume_pct, HEAD_OCTETS + data_octets - length) ||
        !write_head(wav->fd, (uint32_t)data_octets))
        fail(wav);
}

static void wav_close(struct speaker *speaker, int wait_ms)
{
    struct speaker_wav *wav = (struct speaker_wav *)speaker;

    (void)wait_ms;
    (void)close(wav->fd);
    free(wav);
}

static const struct speaker_operations operations = {wav_play, wav_close};

/* A pipe has no place for the head once the length is known. */
static bool is_fit(int fd)
{
    struct stat status;

    if (fstat(fd, &status) != 0)
        return false;
    errno = ESPIPE;
    return S_ISREG(status.st_mode) && write_head(fd, 0);
}

enum result speaker_wav_open(const char *path, struct speaker **ret)
{
    struct speaker_wav *wav = calloc(1, sizeof *wav);
    const int fd =
        wav == NULL ? -1 : open(path, O_WRONLY | O_CREAT | O_TRUNC | O_CLOEXEC | O_NONBLOCK, 0600);

    if (fd < 0 || !is_fit(fd)) {
        const int why = errno;
        if (fd >= 0)
            (void)close(fd);
        free(wav);
        errno = why;
        return RESULT_IO;
    }
    *wav = (struct speaker_wav){.speaker = {.operations = &operations}, .fd = fd};
    *ret = (struct speaker *)wav;
    return RESULT_OK;
}
