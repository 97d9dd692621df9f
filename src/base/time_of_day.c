// SPDX-License-Identifier: GPL-3.0-or-later
#include "slowmatch/time_of_day.h"

#include <ctype.h>
#include <stdio.h>
#include <string.h>
#include <time.h>

static struct tm time_of_day(const sm_time_of_day *day, sm_wall_time wall) {
    time_t seconds = (time_t)((day->launch_us + wall.us) / SM_US_PER_S);
    struct tm parts = {0};
    localtime_r(&seconds, &parts);
    return parts;
}

char *sm_time_of_day_minute(const sm_time_of_day *day, sm_wall_time wall, char buffer[16]) {
    struct tm parts = time_of_day(day, wall);
    snprintf(buffer, 16, "%02d:%02d", parts.tm_hour % 24, parts.tm_min % 60);
    return buffer;
}

char *sm_time_of_day_second(const sm_time_of_day *day, sm_wall_time wall, char buffer[16]) {
    struct tm parts = time_of_day(day, wall);
    snprintf(buffer, 16, "%02d:%02d:%02d", parts.tm_hour % 24, parts.tm_min % 60, parts.tm_sec % 61);
    return buffer;
}

// One or two digits, below LIMIT; *at goes behind them.
static bool read_part(const char **at, int least, int limit, int *out) {
    int digits = 0;
    *out = 0;
    while (isdigit((unsigned char)**at) && digits < 2) {
        *out = *out * 10 + *(*at)++ - '0';
        digits++;
    }
    return digits >= least && *out < limit;
}

bool sm_time_of_day_find(const sm_time_of_day *day, const char *text, sm_wall_time now, sm_wall_time *out) {
    int hour, minute, second = 0;
    if (!read_part(&text, 1, 24, &hour) || *text++ != ':' || !read_part(&text, 2, 60, &minute) ||
        (*text == ':' && (text++, !read_part(&text, 2, 60, &second))) || *text != '\0')
        return false;
    struct tm parts = time_of_day(day, now);
    for (int days = 0; days < 2; days++) {
        struct tm at = parts;
        at.tm_mday += days;
        at.tm_hour = hour;
        at.tm_min = minute;
        at.tm_sec = second;
        at.tm_isdst = -1;
        out->us = (sm_us)mktime(&at) * SM_US_PER_S - day->launch_us;
        if (out->us > now.us)
            return true;
    }
    return false;
}

// The zone behind a time: seconds to take off, *local where there is none.
static bool read_zone(const char *text, long *seconds, bool *local) {
    int hours, minutes;
    char sign;
    *local = text[0] == '\0';
    *seconds = 0;
    if (*local || strcmp(text, "Z") == 0)
        return true;
    if (sscanf(text, "%c%2d:%2d", &sign, &hours, &minutes) != 3 || (sign != '+' && sign != '-') ||
        strlen(text) != 6)
        return false;
    *seconds = (hours * 3600L + minutes * 60L) * (sign == '+' ? 1 : -1);
    return true;
}

bool sm_time_of_day_read_date(const char *text, int64_t *out) {
    struct tm parts = {.tm_isdst = -1};
    int end = 0, more = 0;
    if (sscanf(text, "%4d-%2d-%2d%n", &parts.tm_year, &parts.tm_mon, &parts.tm_mday, &end) != 3)
        return false;
    text += end;
    if ((*text == 'T' || *text == ' ') &&
        sscanf(text + 1, "%2d:%2d%n", &parts.tm_hour, &parts.tm_min, &more) == 2) {
        text += 1 + more;
        if (*text == ':' && sscanf(text, ":%2d%n", &parts.tm_sec, &more) == 1)
            text += more;
        text += *text == '.' ? 1 + strspn(text + 1, "0123456789") : 0;
    }
    long zone_s;
    bool local;
    if (!read_zone(text, &zone_s, &local))
        return false;
    parts.tm_year -= 1900;
    parts.tm_mon -= 1;
    time_t seconds = local ? mktime(&parts) : timegm(&parts);
    *out = ((int64_t)seconds - zone_s) * SM_US_PER_S;
    return true;
}

char *sm_age_format(sm_us span, char buffer[24]) {
    long long seconds = span > 0 ? span / SM_US_PER_S : 0;
    if (seconds < 60)
        snprintf(buffer, 24, "%lld s", seconds);
    else if (seconds < 3600)
        snprintf(buffer, 24, "%lld min", seconds / 60);
    else if (seconds < 48 * 3600LL)
        snprintf(buffer, 24, "%lld h %02lld min", seconds / 3600, seconds / 60 % 60);
    else
        snprintf(buffer, 24, "%lld days", seconds / (24 * 3600LL));
    return buffer;
}

char *sm_wait_format(sm_us span, char buffer[24]) {
    long long seconds = span > 0 ? span / SM_US_PER_S : 0;
    if (seconds < 3600)
        snprintf(buffer, 24, "%02lld:%02lld", seconds / 60, seconds % 60);
    else
        snprintf(buffer, 24, "%lld:%02lld:%02lld", seconds / 3600, seconds / 60 % 60, seconds % 60);
    return buffer;
}

char *sm_countdown_format(sm_us span, char buffer[24]) {
    long long tenths = span > 0 ? (span + 99999) / 100000 : 0;
    if (tenths < 100)
        snprintf(buffer, 24, "%lld.%lld s", tenths / 10, tenths % 10);
    else if (tenths < 36000)
        snprintf(buffer, 24, "%lld s", (tenths + 9) / 10);
    else
        snprintf(buffer, 24, "%lld min", tenths / 600);
    return buffer;
}
