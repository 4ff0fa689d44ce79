#include "report_out.h"

#include <assert.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

void report_put(struct sink sink, const char *format, ...)
{
    char text[400];
    va_list arguments;

    va_start(arguments, format);
    const int length = vsnprintf(text, sizeof text, format, arguments);
    va_end(arguments);
    assert(length >= 0 && (size_t)length < sizeof text);
    sink.put(sink.user, text, (size_t)length);
}

static const char *escape_of(char octet)
{
    switch (octet) {
    case '&': return "&amp;";
    case '<': return "&lt;";
    case '>': return "&gt;";
    case '"': return "&quot;";
    case '\'': return "&#39;";
    default: return (unsigned char)octet < 0x20 || octet == 0x7F ? "" : NULL;
    }
}

void report_text(struct sink sink, const char *text)
{
    report_put(sink, "<bdi>");
    for (; *text != '\0'; text++) {
        const char *escape = escape_of(*text);
        if (escape != NULL)
            sink.put(sink.user, escape, strlen(escape));
        else
            sink.put(sink.user, text, 1);
    }
    report_put(sink, "</bdi>");
}
