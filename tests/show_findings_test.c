// SPDX-License-Identifier: GPL-3.0-or-later
// Every finding of the loader, once and more: one or two files of a small good show are changed, and exactly the findings
// named here must come of it, at exactly these places.
#include "support/show_folder.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
// cmocka.h needs the four above.
#include <stdio.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include <cmocka.h>

#define COUNT(array) (sizeof(array) / sizeof(array)[0])

typedef struct fault {
    const char *file, *text; // NULL text: the file is taken away
    const char *place, *rule;
    const char *says; // a part of the message
} fault;

// ---- one finding each ---------------------------------------------------------

static const fault cue_faults[] = {
    {"cues.csv", "time,target,do\n1,A-09,comet\n", "cues.csv:2:3", "slot-unknown",
     "there is no slot A-09; the slots of rail A are 1 to 8"},
    {"cues.csv", "time,target,do\n1,A-0,comet\n", "cues.csv:2:3", "slot-unknown", "1 to 8"},
    {"cues.csv", "time,target,do\n1,B-01,comet\n", "cues.csv:2:3", "slot-unknown", "no rail is called \"B\""},
    {"cues.csv", "time,target,do\n1,a-01,comet\n", "cues.csv:2:3", "slot-unknown", "no rail is called \"a\""},
    {"cues.csv", "time,target,do\n1,par-3,dim=1\n", "cues.csv:2:3", "target-unknown",
     "is called \"par-3\"; did you mean par-1?"},
    {"cues.csv", "time,target,do\n1,nothing,dim=1\n", "cues.csv:2:3", "target-unknown", "\"nothing\""},
    {"cues.csv", "time,target,do\n1,par-1 A-01,dim=1\n", "cues.csv:2:3", "target-mixed", "two rows"},
    {"cues.csv", "time,target,do\n1,pars par-2,dim=1\n", "cues.csv:2:3", "target-repeated",
     "par-2 is named twice here (a group counts as its members)"},
    {"cues.csv", "time,target,do\n1,A-1 A-01,comet\n", "cues.csv:2:3", "target-repeated",
     "A-01 is named twice"},
    {"cues.csv", "time,target,do\n1,A-01,commet\n", "cues.csv:2:8", "effect-unknown",
     "no \"commet\" in effects.csv; did you mean comet?"},
    {"cues.csv", "time,target,do\n1,A-01,dim=1\n", "cues.csv:2:8", "effect-unknown",
     "is what a fixture does"},
    {"cues.csv", "time,target,do\n1,par-1,gren=1\n", "cues.csv:2:9", "channel-unknown",
     "profile par has no channel \"gren\"; did you mean green?"},
    {"cues.csv", "time,target,do\n1,par-1 jet-1,dim=1\n", "cues.csv:2:15", "channel-unknown",
     "profile jet has no channel \"dim\""},
    {"cues.csv", "time,target,do\n1,par-1,dim=1 dim=2\n", "cues.csv:2:9", "channel-repeated", "channel dim"},
    {"cues.csv", "time,target,do\n1,par-1,comet\n", "cues.csv:2:9", "value",
     "\"comet\" is not channel=level"},
    {"cues.csv", "time,target,do\n1,par-1,=5\n", "cues.csv:2:9", "value", "\"=5\" is not channel=level"},
    {"cues.csv", "time,target,do\n1,par-1,dim=\n", "cues.csv:2:9", "value", "\"\" is not a level"},
    {"cues.csv", "time,target,do\n1,par-1,dim=12.5%\n", "cues.csv:2:9", "value", "\"12.5%\" is not a level"},
    {"cues.csv", "time,target,do\n1,par-1,dim=256\n", "cues.csv:2:9", "level-range",
     "level 256 is out of range"},
    {"cues.csv", "time,target,do\n1,\" \",dim=1\n", "cues.csv:2:3", "value-missing", "target is needed"},
    {"cues.csv", "time,target,do\n1,par-1,\" \t\"\n", "cues.csv:2:9", "value-missing", "do is needed"},
    {"cues.csv", "time,target,do\n1,A,dim=1\n", "cues.csv:2:3", "target-unknown",
     "A is a whole rail; name its slots, such as A-01"},
    {"cues.csv", "time,target,do\n1,par-1,dim=99999999999\n", "cues.csv:2:9", "level-range", "99999999999"},
    {"cues.csv", "time,target,do\n1,par-1,dim=-1\n", "cues.csv:2:9", "level-range", "level -1"},
    {"cues.csv", "time,target,do\n1,par-1,dim=101%\n", "cues.csv:2:9", "level-range", "0% to 100%"},
    {"cues.csv", "time,target,do\n,par-1,dim=1\n", "cues.csv:2:1", "value-missing", "time is needed"},
    {"cues.csv", "time,target,do\n1,,dim=1\n", "cues.csv:2:3", "value-missing", "target is needed"},
    {"cues.csv", "time,target,do\n1,par-1,\n", "cues.csv:2:9", "value-missing", "do is needed"},
    {"cues.csv", "time,target,do\n1:5,par-1,dim=1\n", "cues.csv:2:1", "value", "\"1:5\" is not a moment"},
    {"cues.csv", "time,target,do\n00:00:00;00,par-1,dim=1\n", "cues.csv:2:1", "value", "HH:MM:SS:FF"},
    {"cues.csv", "time,target,do\n400000,par-1,dim=1\n", "cues.csv:2:1", "range", "time is 400000 s"},
    {"cues.csv", "time,target,do\n99999999999999999999,par-1,dim=1\n", "cues.csv:2:1", "range", "time is"},
    {"cues.csv", "time,target,do,fade\n1,par-1,dim=1,2 h\n", "cues.csv:2:15", "value",
     "\"2 h\" is not a time with s, ms or min"},
    {"cues.csv", "time,target,do,fade\n1,par-1,dim=1,3601\n", "cues.csv:2:15", "range",
     "fade is 3601 s; it can be 0 to 3600 s"},
    {"cues.csv", "time,target,do,lasts\n1,par-1,dim=1,-1\n", "cues.csv:2:15", "value",
     "\"-1\" is not a time"},
    {"cues.csv", "time,target,do,fade\n1,A-01,comet,1\n", "cues.csv:2:14", "value", "fade is for fixtures"},
    {"cues.csv", "time,target,do,igniters\n1,par-1,dim=1,2s\n", "cues.csv:2:15", "value",
     "igniters is for slots"},
    {"cues.csv", "time,target,do,wire\n1,par-1,dim=1,2 m\n", "cues.csv:2:15", "value", "wire is for slots"},
    {"cues.csv", "time,target,do,aim\n1,par-1,dim=1,left\n", "cues.csv:2:15", "value", "aim is for slots"},
    {"cues.csv", "time,target,do,igniters\n1,A-01,comet,2\n", "cues.csv:2:14", "value", "such as 2s"},
    {"cues.csv", "time,target,do,igniters\n1,A-01,comet,s\n", "cues.csv:2:14", "value", "\"s\" is not 1"},
    {"cues.csv", "time,target,do,igniters\n1,A-01,comet,0s\n", "cues.csv:2:14", "range", "1 to 100"},
    {"cues.csv", "time,target,do,wire\n1,A-01,comet,12 m 22\n", "cues.csv:2:14", "value", "12 m 22 AWG"},
    {"cues.csv", "time,target,do,wire\n1,A-01,comet,-1 m\n", "cues.csv:2:14", "range", "wire is -1 m"},
    {"cues.csv", "time,target,do\n1,par-1\n", "cues.csv:2:8", "field-count", "has 2 fields, the header 3"},
    {"cues.csv", "time,target,do\n1,par-1,dim=1,,x\n", "cues.csv:2:15", "field-count",
     "has 5 fields, the header 3"},
    {"cues.csv", "time,target,do,,note\n1,par-1,dim=1,,x\n", "cues.csv:1:16", "column-unknown",
     "without a name"},
    {"cues.csv", "time,target,does\n1,par-1,dim=1\n", "cues.csv:1:13", "column-unknown", NULL},
    {"cues.csv", "time,target,do,nota\n1,par-1,dim=1,x\n", "cues.csv:1:16", "column-unknown",
     "cues.csv has no column \"nota\"; did you mean note?"},
    {"cues.csv", "time,target,do,time\n1,par-1,dim=1,2\n", "cues.csv:1:16", "column-repeated", "column time"},
    {"cues.csv", "time,do\n1,dim=1\n", "cues.csv:1", "column-missing", "no column target"},
    {"cues.csv", "# nothing\n", "cues.csv", "column-missing", "no header"},
    {"cues.csv", "time,target,do\n1,\"par-1,dim=1\n", "cues.csv:2:3", "csv", "never closed"},
    {"cues.csv", "time,target,do\n1,par\"-1,dim=1\n", "cues.csv:2:6", "csv", "a quote inside a cell"},
    {"cues.csv", "time,target,do\n1,\"par\"-1,dim=1\n", "cues.csv:2:8", "csv", "after the closing quote"},
    {"cues.csv", "time,target,do\r1,par-1,dim=1\n", "cues.csv:1:15", "csv", NULL},
    {"cues.csv", "time,target,do,note\n1,par-1,dim=1,caf\xE9\n", "cues.csv:2:18", "text", "no UTF-8"},
    {"cues.csv", "time,target,do,note\n\"1\",  \"par-9\" ,dim=1,\xC3\xA9\n", "cues.csv:2:7", "target-unknown",
     NULL},
    {"cues.csv", "note,do,target,time\n\xC3\xA9\xC3\xA9,dim=1,par-9,1\n", "cues.csv:2:10", "target-unknown",
     NULL},
    {"cues.csv", "time,target,do,note\n1,par-1,dim=1,\"two\nlines\"\n2,par-9,dim=1,\n", "cues.csv:4:3",
     "target-unknown", NULL},
    {"cues.csv", NULL, "cues.csv", "file-missing", "is needed"},
};

static const fault rig_faults[] = {
    {"modules.csv", "name,slots\nM 1,16\nM1,16\n", "modules.csv:2:1", "value", "\"M 1\" is not a name"},
    {"modules.csv", "name,slots\nM1,16\nabcdefghijklmnopqrstuvwxyz-123456,4\n", "modules.csv:3:1", "value",
     "at most 31"},
    {"modules.csv", "name,slots\nM1,16\nM1,8\n", "modules.csv:3:1", "name-clash",
     "\"M1\" is in modules.csv already"},
    {"modules.csv", "name,slots\nM1,16\n,8\n", "modules.csv:3:1", "value-missing", "name is needed"},
    {"modules.csv", "name,slots\nM1,many\n", "modules.csv:2:4", "value", "\"many\" is not a whole number"},
    {"modules.csv", "name,slots\nM1,0\n", "modules.csv:2:4", "range", "slots is 0; it can be 1 to 10000"},
    {"modules.csv", "name,slots,volts\nM1,16,12 A\n", "modules.csv:2:7", "value",
     "\"12 A\" is not a number with V (a bare number is in V)"},
    {"modules.csv", "name,slots,pulse\nM1,16,2 min\n", "modules.csv:2:7", "range", "pulse is 120 s"},
    {"modules.csv", "name,slots,test_current\nM1,16,20 A\n", "modules.csv:2:7", "range", "20000 mA"},
    {"show.ini", "[show]\ntitle = t\n[site]\nspeaker = 3 m\n", "show.ini:4:11", "value", "not an x and a y"},
    {"show.ini", "[show]\ntitle = t\n[dmx]\nrefresh = 0 Hz\n", "show.ini:4:11", "range", "refresh is 0 Hz"},
    {"positions.csv", "name,holds\nP,cars\n", "positions.csv:2:3", "value", "people vehicles combustible"},
    {"effects.csv", "name,kind\ncomet,weel\nfountain,\n", "effects.csv:2:7", "value", "did you mean wheel?"},
    {"modules.csv", "name,slots,capacitance\nM1,16,470 nF\n", "modules.csv:2:7", "value", "with uF, mF or F"},
    {"modules.csv", "name,slots,capacitance\nM1,16,20 F\n", "modules.csv:2:7", "range", "20000000 uF"},
    {"igniters.csv", "name,impulse\nm,5 mJ\n", "igniters.csv:2:3", "value", "with mJ/ohm"},
    {"modules.csv", "name,slots,link\nM1,16,holds\n", "modules.csv:2:7", "value",
     "\"holds\" is not one of these words: hold go-on; did you mean hold?"},
    {"modules.csv", NULL, "modules.csv", "file-missing", "rails.csv points at it in line 2"},
    {"rails.csv", "name,module,first,slots\nA,M2,1,8\n", "rails.csv:2:3", "module-unknown",
     "no \"M2\" in modules.csv; did you mean M1?"},
    {"rails.csv", "name,module,first,slots,position\nA,M1,1,8,lefd\n", "rails.csv:2:10", "position-unknown",
     "did you mean left?"},
    {"rails.csv", "name,module,first,slots,cable_gauge\nA,M1,1,8,22\n", "rails.csv:2:10", "value",
     "\"22\" is not a wire"},
    {"rails.csv", "name,module,first,slots,cable_length\nA,M1,1,8,5 yd\n", "rails.csv:2:10", "value",
     "m, ft, mm or in"},
    {"rails.csv", NULL, "rails.csv", "file-missing", "cues.csv points at it in line 2"},
    {"effects.csv", "name,igniter\ncomet,standart\n", "effects.csv:2:7", "igniter-unknown",
     "did you mean standard?"},
    {"effects.csv", "name,zone\ncomet,air\n", "effects.csv:2:7", "value", "none ground aerial near"},
    {"effects.csv", "name,calibre\ncomet,90 in\n", "effects.csv:2:7", "range", "calibre is 2286 mm"},
    {"effects.csv", NULL, "effects.csv", "file-missing", "cues.csv points at it in line 2"},
    {"readings.csv", "rail,slot,reading\nB,1,1.5\n", "readings.csv:2:1", "rail-unknown",
     "no \"B\" in rails.csv"},
    {"readings.csv", "rail,slot,reading\nA,9,1.5\n", "readings.csv:2:3", "slot-unknown",
     "rail A has no slot 9"},
    {"readings.csv", "rail,slot,reading\nA,x,1.5\n", "readings.csv:2:3", "value", "number of a slot"},
    {"readings.csv", "rail,slot,reading\nA,1,good\n", "readings.csv:2:5", "value", "ohms, open or short"},
    {"readings.csv", "rail,slot,reading\nA,1,-1\n", "readings.csv:2:5", "value", "ohms, open or short"},
    {"readings.csv", "rail,slot,reading,when\nA,1,1.5,today\n", "readings.csv:2:9", "value", "date and time"},
    {"walk.csv", "item,ask,hold\nrope,Up?,maybe\n", "walk.csv:2:10", "value", "no yes"},
};

static const fault fixture_faults[] = {
    {"profiles.csv", "name,channels\npar,dim red dim\njet,permit flame\n", "profiles.csv:2:5", "name-clash",
     "channel dim is named twice"},
    {"profiles.csv", "name,channels\npar,dim red$\njet,permit flame\n", "profiles.csv:2:5", "value",
     "\"red$\" is not a name"},
    {"profiles.csv", "name,channels,home\npar,dim red green blue,0 0 0\njet,permit flame,\n",
     "profiles.csv:2:24", "value", "3 home levels for 4 channels"},
    {"profiles.csv", "name,channels,home\npar,dim red green blue,0 0 0 300\njet,permit flame,\n",
     "profiles.csv:2:24", "level-range", "level 300"},
    {"profiles.csv",
     "name,channels,hazard,enable,fire\npar,dim red,,,\njet,permit flame,flame,,flame 1-255\n",
     "profiles.csv:3:18", "hazard-incomplete", "needs enable: a channel"},
    {"profiles.csv", "name,channels,hazard,enable,fire\npar,dim red,,,\njet,permit flame,flame,,\n",
     "profiles.csv:3:18", "hazard-incomplete", "needs enable and fire"},
    {"profiles.csv",
     "name,channels,hazard,enable,fire,wire\npar,dim red,,,,light\njet,permit flame,flame,permit "
     "128-255,flame 1-255,light\n",
     "profiles.csv:3:51", "hazard-wired", "wire is light, but jet makes flame"},
    {"profiles.csv", "name,channels,wire\npar,dim red,\njet,permit flame,yes\n", "profiles.csv:3:18", "value",
     "never"},
    {"profiles.csv",
     "name,channels,hazard,enable,fire\npar,dim red,,,\njet,permit flame,,permit 9,flame 1-255\n",
     "profiles.csv:3:19", "hazard-incomplete", "set hazard to flame"},
    {"profiles.csv",
     "name,channels,home,hazard,enable,fire\npar,dim red,,,,\njet,permit flame,128 0,flame,permit "
     "128-255,flame 1-255\n",
     "profiles.csv:3:18", "hazard-home",
     "the home level of permit is 128, within the range of enable (128 to 255)"},
    {"profiles.csv",
     "name,channels,home,hazard,enable,fire\npar,dim red,,,,\njet,permit flame,128 0,flame,permit "
     "100-128,flame 1-255\n",
     "profiles.csv:3:18", "hazard-home",
     "the home level of permit is 128, within the range of enable (100 to 128)"},
    {"profiles.csv",
     "name,channels,hazard,enable,fire\npar,dim red,,,\njet,permit flame,flame,permit 255,flame 0-255\n",
     "profiles.csv:3:35", "hazard-home", "the home level of flame is 0, within the range of fire"},
    {"profiles.csv",
     "name,channels,hazard,enable,fire\npar,dim red,,,\njet,permit flame,flame,permits 255,flame 1-255\n",
     "profiles.csv:3:24", "channel-unknown", "enable names channel \"permits\""},
    {"profiles.csv",
     "name,channels,hazard,enable,fire\npar,dim red,,,\njet,permit flame,flame,permit,flame 1-255\n",
     "profiles.csv:3:24", "value", "permit 128-255"},
    {"profiles.csv",
     "name,channels,hazard,enable,fire\npar,dim red,,,\njet,permit flame,flame,permit 255-1,flame 1-255\n",
     "profiles.csv:3:24", "value", "the lower one comes first"},
    {"profiles.csv", NULL, "profiles.csv", "file-missing", "fixtures.csv points at it in line 2"},
    {"fixtures.csv", "name,profile,address\npar-1,par,1\npar-2,parr,5\njet-1,jet,20\n", "fixtures.csv:3:7",
     "profile-unknown", "did you mean par?"},
    {"fixtures.csv", "name,profile,address\npar-1,par,one\npar-2,par,5\njet-1,jet,20\n", "fixtures.csv:2:11",
     "value", "whole number"},
    {"fixtures.csv", "name,profile,universe,address\npar-1,par,64000,1\npar-2,par,,5\njet-1,jet,,9\n",
     "fixtures.csv:2:11", "range", "universe is 64000; it can be 1 to 63999"},
    {"fixtures.csv", "name,profile,address\npar-1,par,1\npar-2,par,5\njet-1,jet,20\nA-07,par,9\n",
     "fixtures.csv:5:1", "name-clash", "\"A-07\" reads as slot 7 of rail A"},
    {"fixtures.csv", "name,profile,address\npar-1,par,1\npar-2,par,5\npar-1,jet,20\n", "fixtures.csv:4:1",
     "name-clash", "\"par-1\" is in fixtures.csv already"},
    {"groups.csv", "name,members\npars,par-1 par-2\npar-1,par-2\n", "groups.csv:3:1", "name-clash",
     "\"par-1\" is a fixture already"},
    {"groups.csv", "name,members\npars,par-1 par-2\nA-70,par-2\n", "groups.csv:3:1", "name-clash",
     "reads as slot 70 of rail A"},
    {"groups.csv", "name,members\npars,par-1 pat-2\n", "groups.csv:2:6", "member-unknown",
     "did you mean par-2?"},
    {"groups.csv", "name,members\npars,par-1 A-20\n", "groups.csv:2:6", "member-unknown", "no slot A-20"},
    {"groups.csv", "name,members\nall,pars\npars,par-1\n", "groups.csv:2:5", "member-unknown", "\"pars\""},
    {"groups.csv", "name,members\npars,par-1 par-1\n", "groups.csv:2:6", "member-repeated",
     "par-1 is named twice"},
    {"groups.csv", "name,members\npars,\n", "groups.csv:2:6", "value-missing", "members is needed"},
    {"feeds.csv", "name,from\nmain,\nend,mian\n", "feeds.csv:3:5", "feed-missing", "did you mean main?"},
    {"lines.csv", "name,universe,chain\ndata-1,1,par-1 par-9\n", "lines.csv:2:10", "fixture-unknown",
     "no \"par-9\" in fixtures.csv"},
    {"lines.csv", "name,universe,chain\ndata-1,1,par-1 par-1\n", "lines.csv:2:10", "member-repeated",
     "in this chain twice"},
    {"lines.csv", "name,universe,chain,cables\ndata-1,1,par-1,5 m\n", "lines.csv:2:16", "value",
     "\"5\" is not a length with its unit glued on"},
    {"lines.csv", "name,universe,chain,cables\ndata-1,1,par-1,5m 6m\n", "lines.csv:2:16", "value",
     "2 cables in a chain of 1"},
    {"lines.csv", "name,universe,chain,cables\ndata-1,1,par-1,-5m\n", "lines.csv:2:16", "range",
     "cables is -5 m"},
    {"lines.csv", "name,universe,source,chain\ndata-1,1,right,par-1\n", "lines.csv:2:10", "position-unknown",
     "no \"right\""},
};

static const fault setting_faults[] = {
    {"show.ini", NULL, "show.ini", "file-missing", "is needed"},
    {"show.ini", "[show]\n", "show.ini", "value-missing", "[show] title is needed"},
    {"show.ini", "[show]\ntitle =\n", "show.ini:2:8", "value-missing", "title is needed"},
    {"show.ini", "[show]\ntitle = A\ntitel = B\n", "show.ini:3:1", "key-unknown",
     "[show] has no key \"titel\"; did you mean title?"},
    {"show.ini", "[show]\ntitle = A\nair = 5\n", "show.ini:3:1", "key-unknown", "it belongs under [site]"},
    {"show.ini", "[show]\ntitle = A\n[sites]\nair = 5\n", "show.ini:3:2", "section-unknown",
     "did you mean [site]?"},
    {"show.ini", "[show]\ntitle = A\ncountdown: 5\n", "show.ini:3:10", "ini", "write \"=\""},
    {"show.ini", "[show]\ntitle = A ; B\n", "show.ini:2:11", "ini", "\" ;\" within a line"},
    {"show.ini", "[show]\ntitle = A\ncountdown = soon\n", "show.ini:3:13", "value", "\"soon\" is not a time"},
    {"show.ini", "[show]\ntitle = A\ncountdown = 2 min\n[limits]\narm-time = 11 min\n", "show.ini:5:12",
     "range", "arm-time is 660 s"},
    {"show.ini", "[show]\ntitle = A\ntimecode = 26\n", "show.ini:3:12", "value", "24 25 29.97 30"},
    {"show.ini", "[show]\ntitle = A\ntimecode-gap = 2 s\n", "show.ini:3:16", "range", "timecode-gap is 2 s"},
    {"show.ini", "[show]\ntitle = A\ntimecode-start = 01:00:00:25\n", "show.ini:3:18", "value",
     "at this rate"},
    {"show.ini", "[show]\ntitle = A\ntimecode-start = 01:00:00;00\n", "show.ini:3:18", "value",
     "only at 29.97"},
    {"show.ini", "[show]\ntitle = A\naudio-start = 1:60\n", "show.ini:3:15", "value",
     "\"1:60\" is not a moment"},
    {"show.ini", "[show]\ntitle = A\nlength = -1\n", "show.ini:3:10", "range", "length is -1 s"},
    {"show.ini", "[show]\ntitle = A\n[site]\nair = warm\n", "show.ini:4:7", "value", "C or F"},
    {"show.ini", "[show]\ntitle = A\n[remotes]\npaired = 1 two\n", "show.ini:4:10", "value", "\"two\""},
    {"show.ini", "[show]\ntitle = A\n[remotes]\npaired = 0\n", "show.ini:4:10", "range", "1 to 9999"},
    {"show.ini", "[show]\ntitle = A\xFF\n", "show.ini:2:10", "text", "no UTF-8"},
};

static void format_place(const sm_finding *finding, char place[64]) {
    if (finding->line == 0)
        snprintf(place, 64, "%s", finding->file);
    else if (finding->column == 0)
        snprintf(place, 64, "%s:%u", finding->file, (unsigned)finding->line);
    else
        snprintf(place, 64, "%s:%u:%u", finding->file, (unsigned)finding->line, (unsigned)finding->column);
}

static bool is_told(const sm_findings *findings, const fault *expected) {
    char place[64];
    for (size_t i = 0; i < sm_findings_count(findings); i++) {
        const sm_finding *const each = sm_findings_at(findings, i);
        format_place(each, place);
        if (each->severity == SM_ERROR && strcmp(place, expected->place) == 0 &&
            strcmp(each->rule, expected->rule) == 0 &&
            (!expected->says || strstr(each->message, expected->says)))
            return true;
    }
    return false;
}

static void print_findings(const sm_findings *findings) {
    for (size_t i = 0; i < sm_findings_count(findings); i++) {
        sm_text text = {0};
        sm_finding_format(&text, NULL, sm_findings_at(findings, i));
        print_error("  %s\n", sm_text_get(&text));
        sm_text_deinit(&text);
    }
}

// The same show with each fault in turn; some faults bring a second finding, told by SAYS being NULL.
static void judge(const fault *faults, size_t count) {
    for (size_t i = 0; i < count; i++) {
        sm_show *show = NULL;
        sm_findings *const findings = sm_findings_create();
        const show_folder folder = show_folder_make_small();
        show_folder_put(&folder, faults[i].file, faults[i].text);
        const sm_result result = sm_show_load(folder.path, NULL, findings, &show);
        const bool is_missing = strcmp(faults[i].rule, "file-missing") == 0;
        const bool is_alone = sm_findings_count(findings) == 1 || !faults[i].says;
        if (result != (is_missing ? SM_UNREADABLE : SM_INVALID) || show || !is_alone ||
            !is_told(findings, &faults[i])) {
            print_findings(findings);
            fail_msg("%s, %s [%s], wrong: %s", sm_result_text(result), faults[i].place, faults[i].rule,
                     faults[i].text ? faults[i].text : "(no file)");
        }
        sm_findings_destroy(findings);
        show_folder_remove(&folder);
    }
}

static void tells_what_is_wrong_with_cues(void **state) {
    (void)state;
    judge(cue_faults, COUNT(cue_faults));
}

static void tells_what_is_wrong_with_the_rig(void **state) {
    (void)state;
    judge(rig_faults, COUNT(rig_faults));
}

static void tells_what_is_wrong_with_fixtures(void **state) {
    (void)state;
    judge(fixture_faults, COUNT(fixture_faults));
}

static void tells_what_is_wrong_with_settings(void **state) {
    (void)state;
    judge(setting_faults, COUNT(setting_faults));
}

// ---- about all of them ----------------------------------------------------------

static bool is_planted(const char *rule) {
    const struct {
        const fault *faults;
        size_t count;
    } lists[] = {{cue_faults, COUNT(cue_faults)},
                 {rig_faults, COUNT(rig_faults)},
                 {fixture_faults, COUNT(fixture_faults)},
                 {setting_faults, COUNT(setting_faults)}};
    for (size_t i = 0; i < COUNT(lists); i++) {
        for (size_t k = 0; k < lists[i].count; k++)
            if (strcmp(lists[i].faults[k].rule, rule) == 0)
                return true;
    }
    return strcmp(rule, "file-unreadable") == 0; // has a test of its own
}

static void every_rule_is_listed_and_tested(void **state) {
    (void)state;
    size_t count;
    const sm_show_rule *const rules = sm_show_rules(&count);
    for (size_t i = 0; i < count; i++) {
        assert_true(i == 0 || strcmp(rules[i - 1].id, rules[i].id) < 0);
        if (!is_planted(rules[i].id))
            fail_msg("no fault of this file brings %s", rules[i].id);
    }
    const struct {
        const fault *faults;
        size_t count;
    } lists[] = {{cue_faults, COUNT(cue_faults)}, {setting_faults, COUNT(setting_faults)}};
    for (size_t i = 0; i < COUNT(lists); i++) {
        for (size_t k = 0; k < lists[i].count; k++) {
            size_t at = 0;
            while (at < count && strcmp(rules[at].id, lists[i].faults[k].rule) != 0)
                at++;
            assert_true(at < count);
        }
    }
}

// Findings of several files and of several cells of one row, all in one pass, in the order of files and lines.
static void tells_all_at_once(void **state) {
    (void)state;
    // The effect of line 4 is unknown whatever the rail of its slot; the slot itself is not blamed for its broken rail.
    static const char *const places[] = {"cues.csv:2:1", "cues.csv:2:3",   "cues.csv:3:9",  "cues.csv:3:9",
                                         "cues.csv:4:8", "groups.csv:2:6", "rails.csv:2:3", "show.ini:3:13"};
    sm_show *show = NULL;
    sm_findings *const findings = sm_findings_create();
    const show_folder folder = show_folder_make_small();
    show_folder_put(&folder, "show.ini", "[show]\ntitle = A\ncountdown = x\n");
    show_folder_put(&folder, "rails.csv", "name,module,first,slots\nA,M2,1,8\n");
    show_folder_put(&folder, "groups.csv", "name,members\npars,par-9\n");
    show_folder_put(&folder, "cues.csv",
                    "time,target,do\nx,par-7,dim=1\n1,par-1,dim=999 rad=1 dim=x\n1,A-01,bang\n");
    assert_int_equal(sm_show_load(folder.path, NULL, findings, &show), SM_INVALID);
    if (sm_findings_count(findings) != COUNT(places))
        print_findings(findings);
    assert_int_equal(sm_findings_count(findings), COUNT(places));
    for (size_t i = 0; i < COUNT(places); i++) {
        char place[64];
        format_place(sm_findings_at(findings, i), place);
        assert_string_equal(place, places[i]);
    }
    sm_findings_destroy(findings);
    show_folder_remove(&folder);
}

// A row that cannot be read may hold any name, so no name of that table is called unknown.
static void does_not_blame_names_of_a_broken_table(void **state) {
    (void)state;
    static const fault broken[] = {
        {"fixtures.csv", "name,profile,address\npar-1,par,1,9\npar-2,par,5\n", "fixtures.csv:2:13",
         "field-count", ""},
        {"fixtures.csv", "name,profile,adress\npar-1,par,1\n", "fixtures.csv:1", "column-missing", NULL},
        {"fixtures.csv", "name,profile,address\npar\"-1,par,1\npar-2,par,5\n", "fixtures.csv:2:4", "csv", ""},
        {"effects.csv", "name,lasts\ncomet,2,3\n", "effects.csv:2:9", "field-count", ""},
        {"rails.csv", "name,module,first,slots\nA,M1\n", "rails.csv:2:5", "field-count", ""},
    };
    judge(broken, COUNT(broken));
}

static void keeps_what_could_be_read_where_asked_to(void **state) {
    (void)state;
    sm_show *show = NULL;
    char id[12];
    const sm_show_load_options options = {.keep_invalid = true};
    sm_findings *const findings = sm_findings_create();
    const show_folder folder = show_folder_make_small();
    show_folder_put(&folder, "cues.csv",
                    "time,target,do\n1,A-01,comet\n2,A-01,bang\n3,A-02 A-44,comet\n4,pars,dim=5\n");
    show_folder_put(
        &folder, "fixtures.csv",
        "name,profile,address,fuel,position\npar-1,par,1,9 ohm,there\npar-2,par,5,,\njet-1,jett,20,,\n");
    assert_int_equal(sm_show_load(folder.path, &options, findings, &show), SM_INVALID);
    assert_int_equal(sm_findings_count(findings), 5);
    assert_non_null(show);
    assert_int_equal(show->cue_count, 2); // those with an error are left out
    assert_int_equal(show->event_count, 3);
    assert_string_equal(sm_cue_id(show, 0, id), "1");
    assert_string_equal(sm_cue_id(show, 1, id), "4"); // ordinals count the rows, not what is left
    assert_int_equal(show->fixture_count, 2);         // one cannot be without its profile
    assert_int_equal(show->fixtures[0].position, SM_NONE);
    sm_show_destroy(show);
    sm_findings_destroy(findings);
    show_folder_remove(&folder);
}

static void tells_files_that_cannot_be_read(void **state) {
    (void)state;
    char path[128];
    sm_show *show = NULL;
    sm_findings *findings = sm_findings_create();
    const show_folder folder = show_folder_make_small();
    show_folder_put(&folder, "walk.csv", NULL);
    snprintf(path, sizeof path, "%s/walk.csv", folder.path);
    assert_int_equal(mkdir(path, 0700), 0);
    assert_int_equal(sm_show_load(folder.path, NULL, findings, &show), SM_UNREADABLE);
    assert_int_equal(sm_findings_count(findings), 1);
    assert_string_equal(sm_findings_at(findings, 0)->rule, "file-unreadable");
    assert_string_equal(sm_findings_at(findings, 0)->file, "walk.csv");
    sm_findings_destroy(findings);
    findings = sm_findings_create();
    assert_non_null(findings);
    snprintf(path, sizeof path, "%s/no-such-folder", folder.path);
    assert_int_equal(sm_show_load(path, NULL, findings, &show), SM_UNREADABLE);
    assert_string_equal(sm_findings_at(findings, 0)->rule, "file-missing");
    sm_findings_destroy(findings);
    findings = sm_findings_create();
    assert_non_null(findings);
    snprintf(path, sizeof path, "%s/cues.csv", folder.path);
    assert_int_equal(sm_show_load(path, NULL, findings, &show), SM_UNREADABLE);
    assert_non_null(strstr(sm_findings_at(findings, 0)->message, "not a folder"));
    assert_null(show);
    sm_findings_destroy(findings);
    show_folder_remove(&folder);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(tells_what_is_wrong_with_cues),
        cmocka_unit_test(tells_what_is_wrong_with_the_rig),
        cmocka_unit_test(tells_what_is_wrong_with_fixtures),
        cmocka_unit_test(tells_what_is_wrong_with_settings),
        cmocka_unit_test(every_rule_is_listed_and_tested),
        cmocka_unit_test(tells_all_at_once),
        cmocka_unit_test(does_not_blame_names_of_a_broken_table),
        cmocka_unit_test(keeps_what_could_be_read_where_asked_to),
        cmocka_unit_test(tells_files_that_cannot_be_read),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
