// SPDX-License-Identifier: GPL-3.0-or-later
// The sending process: owns the sockets, and nothing else of the program.
//
// It is started by exec when the lights are asked for, finds its end of a pair of local sockets at descriptor LIGHTS_DESCRIPTOR, keeps no
// other, and reads the show's tables by itself. First it only listens. An order lets it send; then each frame that the program orders
// must agree with its own judge and its own mask, or it stops for good. Where the program's end closes (it was killed, it crashed, it
// quit without a word), it lets the lights go within 200 ms: three packets of home, three that end the stream.
#include "lights/cid.h"
#include "lights/message.h"
#include "lights/streams.h"

#include "slowmatch/clock.h"
#include "slowmatch/confine.h"

#include <errno.h>
#include <fcntl.h>
#include <poll.h>
#include <signal.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/prctl.h>
#include <sys/resource.h>
#include <sys/socket.h>
#include <sys/stat.h>
#include <unistd.h>

#define LOOK_US (SM_US_PER_S / 5) // how often the interface is looked at
#define LIVES_US SM_US_PER_S
#define DISCOVER_US (10 * SM_US_PER_S) // E1.31 4.3 (second-hand)
#define GRACE_US (5 * SM_US_PER_S)     // the program lets the statement lapse first
enum { HEARD_MAX = 512, HEARD_AT_ONCE = 64 };

typedef struct heard {
    uint8_t cid[SM_SACN_CID_BYTES];
    uint16_t universe;
} heard;

// The tables that say what is patched where.
static const char *const tables[] = {"fixtures.csv", "profiles.csv", "lines.csv"};
enum { TABLES = sizeof tables / sizeof tables[0] };
typedef struct stamp {
    bool there;
    ino_t inode;
    off_t bytes;
    struct timespec written, changed; // the latter also where a tool puts the former back
} stamp;

typedef struct process {
    const char *folder;
    stamp stamps[TABLES]; // as they were before they were read
    lights_wire wire;
    lights_masks masks;
    lights_judge *judge;
    lights_streams streams;
    bool sends;
    int64_t lapses_us, look_us, discover_us, lives_us;
    heard heard[HEARD_MAX];
    size_t heard_count;
    bool ordered, hears; // something waits to be read: of the program, of others
    bool over;
} process;

static volatile sig_atomic_t asked_to_end; // set by the handler alone

static void on_signal(int number) {
    asked_to_end = number;
}

static void tell(lights_news_kind kind, int32_t universe, int priority, const char *text) {
    lights_news news = {.kind = kind, .universe = universe, .priority = priority};
    snprintf(news.text, sizeof news.text, "%s", text);
    (void)send(LIGHTS_DESCRIPTOR, &news, sizeof news, MSG_NOSIGNAL | MSG_DONTWAIT);
}

// Nothing is sent any more: what a fault left behind is in nobody's hands but the receivers', which hold their last look.
static void stop(process *p, const char *why) {
    lights_wire_close(&p->wire);
    tell(LIGHTS_STOPPED, 0, 0, why);
    p->over = true;
}

// ---- beginning -----------------------------------------------------------------------------

// Nothing of the program but the pair stays open.
static bool enter(void) {
    const int null = open("/dev/null", O_RDWR);
    if (null < 0)
        return false;
    for (int fd = 0; fd < 3; fd++)
        dup2(null, fd);
    close_range(LIGHTS_DESCRIPTOR + 1, ~0u, 0);
    fcntl(LIGHTS_DESCRIPTOR, F_SETFD, FD_CLOEXEC);
    setrlimit(RLIMIT_CORE, &(struct rlimit){0});
    prctl(PR_SET_NAME, "slowmatch-light");
    const struct sigaction action = {.sa_handler = on_signal};
    sigaction(SIGTERM, &action, NULL);
    sigaction(SIGINT, &action, NULL);
    sigaction(SIGHUP, &action, NULL);
    return true;
}

static stamp stamp_of(const char *folder, const char *table) {
    char path[4096];
    struct stat now;
    const int length = snprintf(path, sizeof path, "%s/%s", folder, table);
    if (length < 0 || (size_t)length >= sizeof path || stat(path, &now) != 0)
        return (stamp){0};
    return (stamp){true, now.st_ino, now.st_size, now.st_mtim, now.st_ctim};
}

static bool read_tables(const char *folder, lights_judge **judge, lights_masks *masks,
                        char why[SM_LIGHTS_WHY]) {
    sm_findings *findings = sm_findings_create();
    sm_show *show = NULL;
    sm_result result = findings ? sm_show_load(folder, NULL, findings, &show) : SM_NO_MEMORY;
    sm_findings_destroy(findings);
    if (result == SM_OK)
        result = lights_judge_create(show, judge);
    if (result == SM_OK)
        result = lights_masks_make(show, masks);
    sm_show_destroy(show);
    if (result != SM_OK)
        snprintf(why, SM_LIGHTS_WHY, "the sending process cannot read the tables: %s",
                 sm_result_text(result));
    return result == SM_OK;
}

static void make_streams(process *p) {
    p->streams.judge = p->judge;
    p->streams.wire = &p->wire;
    for (size_t i = 0; i < p->masks.count && p->streams.count < SM_LIGHTS_UNIVERSES; i++) {
        const lights_mask *mask = &p->masks.masks[i];
        uint32_t address;
        if (!mask->spoiled && sm_lights_to_of(&p->wire.options, mask->universe, &address))
            p->streams.at[p->streams.count++] = (lights_stream){.mask = mask, .address = address};
    }
}

static bool begin_listening(process *p, char why[SM_LIGHTS_WHY]) {
    int32_t universes[SM_LIGHTS_UNIVERSES];
    char less_words[SM_LIGHTS_WHY] = "";
    size_t less;
    for (size_t i = 0; i < p->streams.count; i++)
        universes[i] = p->streams.at[i].mask->universe;
    if (!lights_wire_look(&p->wire, why) ||
        !lights_wire_listen(&p->wire, universes, p->streams.count, &less, why))
        return false;
    if (less > 0)
        snprintf(less_words, sizeof less_words,
                 "sources by multicast on %zu of %zu universes cannot be heard", less, p->streams.count);
    tell(LIGHTS_LISTENS, 0, 0, less_words);
    return true;
}

static bool begin(process *p, int argc, char **argv, char why[SM_LIGHTS_WHY]) {
    snprintf(why, SM_LIGHTS_WHY, "the sending process was not told what to send");
    if (argc != 6 || sm_lights_options_read(argv[3], argv[4], argv[5], &p->wire.options, why) != SM_OK)
        return false;
    snprintf(p->wire.source.name, sizeof p->wire.source.name, "slowmatch REHEARSAL");
    p->folder = argv[2];
    for (size_t i = 0; i < TABLES; i++)
        p->stamps[i] = stamp_of(p->folder, tables[i]);
    if (!read_tables(p->folder, &p->judge, &p->masks, why) || !lights_cid_take(p->wire.source.cid, why))
        return false;
    make_streams(p);
    return begin_listening(p, why);
}

// ---- orders ----------------------------------------------------------------------------------

static void go(process *p, const lights_order *order, int64_t now_us) {
    char why[SM_LIGHTS_WHY];
    if (p->sends)
        return;
    if (!lights_wire_stands(&p->wire, why) || !lights_wire_open(&p->wire, why)) {
        stop(p, why);
        return;
    }
    p->sends = true;
    p->lapses_us = now_us + order->span_us + GRACE_US;
    p->discover_us = now_us + SM_US_PER_S; // when there is something to tell
}

static void follow_frames(process *p, const lights_orders *orders, int64_t now_us) {
    char why[SM_LIGHTS_WHY];
    if (!p->sends)
        stop(p, "a frame came before anybody stated anything");
    for (int32_t i = 0; i < orders->order.count && !p->over; i++)
        if (!lights_streams_order(&p->streams, &orders->verdicts[i], now_us, why))
            stop(p, why);
}

static void follow(process *p, const lights_orders *orders, int64_t now_us) {
    const lights_order *order = &orders->order;
    lights_stream *stream;
    switch (order->kind) {
    case LIGHTS_GO:
        go(p, order, now_us);
        break;
    case LIGHTS_FRAME:
        follow_frames(p, orders, now_us);
        break;
    case LIGHTS_DROP:
        stream = lights_streams_find(&p->streams, order->universe);
        if (stream)
            stream->dropped = true;
        break;
    case LIGHTS_END:
        p->over |= !p->sends;
        lights_streams_end(&p->streams, order->span_us, now_us);
        break;
    default:
        stop(p, "an order that is none");
    }
}

static void let_go(process *p, int64_t now_us) {
    p->over |= !p->sends;
    lights_streams_end(&p->streams, 0, now_us);
}

static void read_order(process *p, const lights_orders *orders, ssize_t length, int64_t now_us) {
    const lights_order *order = &orders->order;
    const bool whole =
        (size_t)length >= sizeof *order && order->count >= 0 && order->count <= SM_LIGHTS_UNIVERSES &&
        (size_t)length == (order->count == 0 ? sizeof *order
                                             : offsetof(lights_orders, verdicts) +
                                                   (size_t)order->count * sizeof(lights_verdict));
    if (whole)
        follow(p, orders, now_us);
    else
        stop(p, "an order that is none");
}

// One a round: what waits behind it ends the next wait at once.
static void hear_program(process *p, int64_t now_us) {
    lights_orders orders;
    ssize_t length;
    do // a reset is told once, before what is left to be read
        length = recv(LIGHTS_DESCRIPTOR, &orders, sizeof orders, MSG_DONTWAIT);
    while (length < 0 && (errno == EINTR || errno == ECONNRESET));
    if (length > 0)
        read_order(p, &orders, length, now_us);
    else if (length == 0 || errno != EAGAIN) // its end closed
        let_go(p, now_us);
}

// ---- hearing others ---------------------------------------------------------------------------

static bool knows(const process *p, const sm_sacn_heard *it) {
    for (size_t i = 0; i < p->heard_count; i++)
        if (p->heard[i].universe == it->head.universe &&
            memcmp(p->heard[i].cid, it->source.cid, sizeof it->source.cid) == 0)
            return true;
    return false;
}

static void hear(process *p) {
    sm_sacn_heard it;
    for (int i = 0; i < HEARD_AT_ONCE && p->wire.listener >= 0 && lights_wire_hear(&p->wire, &it); i++) {
        const bool full = p->heard_count == HEARD_MAX && !p->sends; // enough to know before anything is sent
        if (full || it.head.terminated || !lights_streams_find(&p->streams, it.head.universe) ||
            knows(p, &it))
            continue;
        const bool ours = memcmp(it.source.cid, p->wire.source.cid, sizeof it.source.cid) == 0;
        if (p->heard_count < HEARD_MAX) {
            p->heard[p->heard_count].universe = it.head.universe;
            memcpy(p->heard[p->heard_count++].cid, it.source.cid, sizeof it.source.cid);
        }
        if (ours && !p->wire.loopback)
            stop(p, "another sender has this one's identifier");
        else if (!ours)
            tell(LIGHTS_HEARD, it.head.universe, it.head.priority, it.source.name);
    }
}

// ---- the loop -----------------------------------------------------------------------------------

static bool is_same_moment(struct timespec a, struct timespec b) {
    return a.tv_sec == b.tv_sec && a.tv_nsec == b.tv_nsec;
}

static bool is_same_stamp(const stamp *a, const stamp *b) {
    return a->there == b->there && a->inode == b->inode && a->bytes == b->bytes &&
           is_same_moment(a->written, b->written) && is_same_moment(a->changed, b->changed);
}

// Universes that are patched otherwise now, or can no longer be read, get nothing more, not even their end.
static void drop_what_changed(process *p) {
    lights_judge *judge = NULL;
    lights_masks masks = {0};
    lights_verdict verdict;
    char why[SM_LIGHTS_WHY];
    const bool read = read_tables(p->folder, &judge, &masks, why);
    for (size_t i = 0; i < p->streams.count; i++) {
        lights_stream *stream = &p->streams.at[i];
        const lights_mask *mask = read ? lights_mask_find(&masks, stream->mask->universe) : NULL;
        const bool same = mask && memcmp(mask->bits, stream->mask->bits, sizeof mask->bits) == 0 &&
                          lights_judge_pass(judge, mask->universe, stream->mask->home, NULL, &verdict, why);
        stream->dropped = stream->dropped || !same;
    }
    lights_judge_destroy(judge);
    free(masks.masks);
}

// A table of the patch is other than when it was read: what was stated was stated of another patch.
static void look_at_tables(process *p, int64_t now_us) {
    char why[SM_LIGHTS_WHY];
    for (size_t i = 0; i < TABLES && !p->streams.ends; i++) {
        const stamp now = stamp_of(p->folder, tables[i]);
        if (is_same_stamp(&now, &p->stamps[i]))
            continue;
        snprintf(why, sizeof why, "%s was changed: read the show again", tables[i]);
        if (!p->sends) {
            stop(p, why);
            return;
        }
        drop_what_changed(p);
        tell(LIGHTS_LAPSED, 0, 0, why);
        lights_streams_end(&p->streams, 0, now_us);
    }
}

static void look_after(process *p, int64_t now_us) {
    char why[SM_LIGHTS_WHY];
    if (now_us >= p->look_us) {
        look_at_tables(p, now_us);
        if (p->over)
            return;
        p->look_us = now_us + LOOK_US;
        if (!lights_wire_stands(&p->wire, why)) {
            stop(p, why);
            return;
        }
    }
    if (now_us >= p->lives_us) {
        tell(LIGHTS_LIVES, 0, 0, "");
        p->lives_us = now_us + LIVES_US;
    }
    if (p->sends && !p->streams.ends && now_us >= p->lapses_us) {
        tell(LIGHTS_LAPSED, 0, 0, "the statement's time is over");
        lights_streams_end(&p->streams, 0, now_us);
    }
    if (p->sends && !p->streams.ends && now_us >= p->discover_us) {
        uint16_t universes[SM_LIGHTS_UNIVERSES];
        const size_t count = lights_streams_list(&p->streams, universes);
        p->discover_us = now_us + DISCOVER_US;
        if (lights_send_discovery(&p->wire, universes, count, why) == LIGHTS_FAILED)
            stop(p, why);
    }
}

static void send_due(process *p, int64_t now_us) {
    char why[SM_LIGHTS_WHY];
    if (p->sends && !lights_streams_send(&p->streams, now_us, why))
        stop(p, why);
    p->over |= lights_streams_are_over(&p->streams);
}

static void wait_for_anything(process *p, int64_t now_us) {
    struct pollfd waited[] = {{LIGHTS_DESCRIPTOR, POLLIN, 0}, {p->wire.listener, POLLIN, 0}};
    int64_t due_us = p->sends ? lights_streams_due(&p->streams) : INT64_MAX;
    due_us = p->look_us < due_us ? p->look_us : due_us;
    const int64_t left_us = due_us > now_us ? due_us - now_us : 0;
    const struct timespec nap = sm_monotonic_at_ns((left_us < SM_US_PER_S ? left_us : SM_US_PER_S) * 1000);
    // Once the lights are let go, a program's end that is closed would only wake it again and again.
    ppoll(waited + (p->streams.ends ? 1 : 0), p->streams.ends ? 1 : 2, &nap, NULL);
    p->ordered = waited[0].revents != 0;
    p->hears = waited[1].revents != 0;
}

static void loop(process *p) {
    while (!p->over) {
        int64_t now_us = sm_monotonic_us();
        if (p->ordered && !p->streams.ends)
            hear_program(p, now_us);
        if (asked_to_end && !p->streams.ends) {
            tell(LIGHTS_LAPSED, 0, 0, "the sending process was told to end");
            let_go(p, now_us);
        }
        if (p->hears)
            hear(p);
        if (!p->over)
            look_after(p, now_us);
        if (!p->over)
            send_due(p, sm_monotonic_us());
        now_us = sm_monotonic_us();
        if (!p->over)
            wait_for_anything(p, now_us);
    }
}

int sm_lights_process_main(int argc, char **argv) {
    char why[SM_LIGHTS_WHY];
    if (!enter())
        return 2;
    process *p = calloc(1, sizeof *p);
    if (!p)
        return 2;
    p->wire.listener = -1;
    if (begin(p, argc, argv, why)) {
        (void)sm_confine(SM_CONFINE_READS_AND_SENDS); // what others send is read from here on
        loop(p);
    } else {
        stop(p, why);
    }
    lights_wire_close(&p->wire);
    lights_judge_destroy(p->judge);
    free(p->masks.masks);
    free(p);
    return 0;
}
