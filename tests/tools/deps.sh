#!/bin/sh
# SPDX-License-Identifier: GPL-3.0-or-later
# deps.sh SET...: looks whether what the sets need is here (build, test, soak, bench, tidy, mutants, memcheck, crew, deb, make). All here: no output, exit 0.
# On Debian and its kin missing packages are named, then installed; elsewhere the list for the system's own package manager
# is printed, exit 1.
set -u
CC=${CC:-cc}

# set | how to see that it is here | package names by package manager; "?" is a name not known, "-" is nothing to install.
# cmd:PROGRAM; lib:HEADER:NAME (pkg-config's name of it, - for none); file:NAME below a library folder; perl:MODULE; py:MODULE; font:FILE;
# dpkg:PACKAGE where Debian's own tools ask for the package by its name.
# Names for apt-get were tried; the others are from memory, so the message for those also says what each is for.
needs() {
    cat <<'TABLE'
#set     probe                               apt-get              dnf                     pacman       zypper               apk               brew
make     cmd:make                            make                 make                    make         make                 make              make
build    cmd:cc                              gcc,libc6-dev        gcc                     gcc          gcc                  gcc,musl-dev      -
build    cmd:make                            make                 make                    make         make                 make              make
build    cmd:pkg-config                      pkg-config           pkgconf-pkg-config      pkgconf      pkgconf-pkg-config   pkgconf           pkgconf
build    lib:curses.h:ncursesw               libncurses-dev       ncurses-devel           ncurses      ncurses-devel        ncurses-dev       ncurses
build    lib:sndfile.h:sndfile               libsndfile1-dev      libsndfile-devel        libsndfile   libsndfile-devel     libsndfile-dev    libsndfile
build    lib:portaudio.h:portaudio-2.0       portaudio19-dev      portaudio-devel         portaudio    portaudio-devel      portaudio-dev     portaudio
build    lib:csv.h:-                         libcsv-dev           libcsv-devel            ?            libcsv-devel         ?                 ?
build    lib:ini.h:inih                      libinih-dev          inih-devel              libinih      inih-devel           inih-dev          inih
build    lib:samplerate.h:samplerate         libsamplerate0-dev   libsamplerate-devel     libsamplerate libsamplerate-devel libsamplerate-dev libsamplerate
build    lib:rubberband/rubberband-c.h:rubberband librubberband-dev rubberband-devel      rubberband   librubberband-devel  rubberband-dev    rubberband
build    lib:ltc.h:ltc                       libltc-dev           libltc-devel            libltc       libltc-devel         ?                 ?
build    lib:sqlite3.h:sqlite3               libsqlite3-dev       sqlite-devel            sqlite       sqlite3-devel        sqlite-dev        sqlite
build    lib:nettle/sha2.h:nettle            nettle-dev           nettle-devel            nettle       libnettle-devel      nettle-dev        nettle
build    lib:zlib.h:zlib                     zlib1g-dev           zlib-devel              zlib         zlib-devel           zlib-dev          zlib
build    lib:zip.h:libzip                    libzip-dev           libzip-devel            libzip       libzip-devel         libzip-dev       libzip
build    lib:expat.h:expat                   libexpat1-dev        expat-devel             expat        libexpat-devel       expat-dev        expat
build    lib:mosquitto.h:libmosquitto        libmosquitto-dev     mosquitto-devel         mosquitto    libmosquitto-devel   mosquitto-dev     mosquitto
build    lib:jansson.h:jansson               libjansson-dev       jansson-devel           jansson      libjansson-devel     jansson-dev       jansson
test     lib:cmocka.h:cmocka                 libcmocka-dev        libcmocka-devel         cmocka       libcmocka-devel      cmocka-dev        cmocka
test     lib:vterm.h:vterm                   libvterm-dev         libvterm-devel          libvterm     libvterm-devel       libvterm-dev      libvterm
test     cmd:pulseaudio                      pulseaudio           pulseaudio              pulseaudio   pulseaudio           pulseaudio        pulseaudio
test     cmd:pactl                           pulseaudio-utils     pulseaudio-utils        libpulse     pulseaudio-utils     pulseaudio-utils  pulseaudio
test     file:libasound_module_pcm_pulse.so  libasound2-plugins   alsa-plugins-pulseaudio alsa-plugins alsa-plugins-pulse   alsa-plugins-pulse -
test     cmd:sox                             sox                  sox                     sox          sox                  sox               sox
test     cmd:mosquitto                       mosquitto            mosquitto               mosquitto    mosquitto            mosquitto         mosquitto
test     cmd:mosquitto_sub                   mosquitto-clients    mosquitto               mosquitto    mosquitto-clients    mosquitto-clients mosquitto
test     cmd:openssl                         openssl              openssl                 openssl      openssl              openssl           openssl
test     py:jsonschema                       python3-jsonschema   python3-jsonschema      python-jsonschema python3-jsonschema py3-jsonschema  -
test     cmd:aubioonset                      aubio-tools          aubio                   aubio        aubio-tools          aubio             aubio
test     perl:Time::HiRes                    perl                 perl-Time-HiRes         perl         perl                 perl              perl
test     cmd:sqlite3                         sqlite3              sqlite                  sqlite       sqlite3              sqlite            sqlite
test     cmd:weasyprint                      weasyprint           weasyprint              python-weasyprint ?                ?                 weasyprint
test     cmd:pdftotext                       poppler-utils        poppler-utils           poppler      poppler-tools        poppler-utils     poppler
test     font:LiberationSans-Regular.ttf     fonts-liberation     liberation-sans-fonts   ttf-liberation liberation-fonts   font-liberation   font-liberation
test     cmd:strace                          strace               strace                  strace       strace             strace            -
test     cmd:tshark                          tshark               wireshark-cli           wireshark-cli wireshark           tshark            wireshark
test     cmd:olad                            ola                  ola                     ?            ?                    ?                 ola
test     cmd:zsh                             zsh                  zsh                     zsh          zsh                  zsh               zsh
test     cmd:fish                            fish                 fish                    fish         fish                 fish              fish
test     cmd:unshare                         util-linux           util-linux              util-linux   util-linux           util-linux        -
test     cmd:ip                              iproute2             iproute                 iproute2     iproute2             iproute2          -
soak     cmd:chromium                        chromium             chromium                chromium     chromium             chromium          ?
soak     cmd:firefox-esr                     firefox-esr          firefox                 firefox      MozillaFirefox       firefox-esr       ?
soak     cmd:soffice                         libreoffice-calc     libreoffice-calc        libreoffice-fresh libreoffice-calc     libreoffice-calc  ?
soak     py:xlsxwriter                       python3-xlsxwriter   python3-xlsxwriter      python-xlsxwriter python3-XlsxWriter   py3-xlsxwriter    ?
soak     py:odf                              python3-odf          python3-odfpy           python-odfpy python3-odfpy        py3-odfpy         ?
soak     cmd:npm                             npm                  npm                     npm          npm                  npm               node
soak     cmd:java                            default-jre-headless java-latest-openjdk-headless jre-openjdk-headless java-17-openjdk-headless openjdk17-jre-headless openjdk
bench    cmd:mpv                             mpv                  mpv                     mpv          mpv                  mpv               mpv
bench    py:openpyxl                         python3-openpyxl     python3-openpyxl        python-openpyxl python3-openpyxl     py3-openpyxl      ?
bench    py:xlsxwriter                       python3-xlsxwriter   python3-xlsxwriter      python-xlsxwriter python3-XlsxWriter   py3-xlsxwriter    ?
bench    cmd:cmus                            cmus                 cmus                    cmus         cmus                 cmus              cmus
tidy     cmd:clang                           clang                clang                   clang        clang                clang             llvm
tidy     cmd:clang-tidy                      clang-tidy           clang-tools-extra       clang        clang-tools          clang-extra-tools llvm
tidy     cmd:clang-format                    clang-format         clang-tools-extra       clang        clang-tools          clang-extra-tools llvm
deb      cmd:dpkg-buildpackage               dpkg-dev             -                       -            -                    -                 -
deb      dpkg:build-essential                build-essential      -                       -            -                    -                 -
deb      cmd:dh                              debhelper            -                       -            -                    -                 -
deb      cmd:lintian                         lintian              -                       -            -                    -                 -
fuzz     cmd:clang                           clang                clang                   clang        clang                clang             llvm
crew     cmd:mosquitto                       mosquitto            mosquitto               mosquitto    mosquitto            mosquitto         mosquitto
crew     cmd:tmux                            tmux                 tmux                    tmux         tmux                 tmux              tmux
crew     cmd:python3                         python3              python3                 python       python3              python3           python3
mutants  cmd:python3                         python3              python3                 python       python3              python3           python3
memcheck cmd:valgrind                        valgrind             valgrind                valgrind     valgrind             valgrind          valgrind
TABLE
}

has_header() { # HEADER PKG_CONFIG_NAME
    for folder in /usr/include /usr/local/include; do
        [ -e "$folder/$1" ] && return 0
    done
    flags=
    [ "$2" != - ] && flags=$(pkg-config --cflags-only-I "$2" 2>/dev/null)
    # shellcheck disable=SC2086 # both are lists of words
    printf '#include <%s>\n' "$1" | $CC $flags -E - >/dev/null 2>&1
}

has_file() {
    for folder in /usr/lib /usr/lib64 /usr/local/lib; do
        for found in "$folder"/*/alsa-lib/"$1" "$folder"/alsa-lib/"$1"; do
            [ -e "$found" ] && return 0
        done
    done
    return 1
}

has_font() {
    for folder in /usr/share/fonts /usr/local/share/fonts "$HOME/.local/share/fonts" "$HOME/Library/Fonts" /Library/Fonts; do
        [ -n "$(find "$folder" -name "$1" 2>/dev/null)" ] && return 0
    done
    return 1
}

is_here() {
    case $1 in
        cmd:cc) command -v "${CC%% *}" >/dev/null 2>&1 ;;
        cmd:*) command -v "${1#cmd:}" >/dev/null 2>&1 ;;
        lib:*) rest=${1#lib:}; has_header "${rest%%:*}" "${rest#*:}" ;;
        dpkg:*) [ "$(dpkg-query -W -f '${db:Status-Status}' "${1#dpkg:}" 2>/dev/null)" = installed ] ;;
        perl:*) perl -M"${1#perl:}" -e 1 >/dev/null 2>&1 ;;
        file:*) has_file "${1#file:}" ;;
        py:*) /usr/bin/python3 -c "import ${1#py:}" >/dev/null 2>&1 ;;
        font:*) has_font "${1#font:}" ;;
    esac
}

manager() {
    for candidate in apt-get dnf pacman zypper apk brew; do
        command -v "$candidate" >/dev/null 2>&1 && echo "$candidate" && return
    done
    echo none
}

nth() { # N WORD...: word number N, from 0
    shift "$(($1 + 1))"
    echo "$1"
}

# One line a missing need: "PROBE PACKAGE,PACKAGE".
missing() { # COLUMN SET...
    column=$1
    shift
    needs | while read -r set probe names; do
        case " $* " in *" $set "*) ;; *) continue ;; esac
        is_here "$probe" && continue
        # shellcheck disable=SC2086 # the names are the columns
        name=$(nth "$column" $names)
        # A compiler of the caller's own choice has the package of its own name.
        [ "$probe" = cmd:cc ] && [ "$CC" != cc ] && name="${CC%% *},libc6-dev"
        echo "$probe $name"
    done
}

packages() { # of lines "PROBE PACKAGES"
    printf '%s\n' "$1" | while read -r probe names; do
        case $names in "?" | "-") ;; *) echo "$names" | tr ',' '\n' ;; esac
    done | awk '!seen[$0]++' | tr '\n' ' '
}

install_by_apt() { # PACKAGES
    as_root=
    if [ "$(id -u)" -ne 0 ]; then
        if ! command -v sudo >/dev/null 2>&1; then
            echo "slowmatch: neither root nor sudo here. As root: apt-get update && apt-get install -y $1" >&2
            return 1
        fi
        as_root=sudo
    fi
    echo "slowmatch: ${as_root:+$as_root }apt-get install $1" >&2
    $as_root apt-get update -q >&2 || return 1
    # shellcheck disable=SC2086 # a list of packages
    $as_root env DEBIAN_FRONTEND=noninteractive apt-get install -q -y --no-install-recommends \
        -o DPkg::Lock::Timeout=120 -o Dpkg::Use-Pty=0 $1 >&2
}

# What to do where this script installs nothing itself.
advise() { # MANAGER LINES
    list=$(packages "$2")
    case $1 in
        dnf) echo "  sudo dnf install $list" ;;
        pacman) echo "  sudo pacman -S --needed $list" ;;
        zypper) echo "  sudo zypper install $list" ;;
        apk) echo "  sudo apk add $list" ;;
        brew) echo "  brew install $list" ;;
        *) echo "  no package manager known here (names as Debian has them): $list" ;;
    esac
    echo "What is missing, should a package bear another name:"
    printf '%s\n' "$2" | while read -r probe names; do
        case $probe in
            cmd:*) echo "  the program ${probe#cmd:} ($names)" ;;
            lib:*) rest=${probe#lib:}; echo "  the library with the header ${rest%%:*} ($names)" ;;
            dpkg:*) echo "  Debian's package ${probe#dpkg:}" ;;
            perl:*) echo "  perl with ${probe#perl:} ($names)" ;;
            file:*) echo "  ${probe#file:} ($names)" ;;
            py:*) echo "  the module ${probe#py:} of the system's python3 ($names)" ;;
        esac
    done
}

manager=$(manager)
case $manager in
    dnf) column=1 ;; pacman) column=2 ;; zypper) column=3 ;; apk) column=4 ;; brew) column=5 ;; *) column=0 ;;
esac
lines=$(missing "$column" "$@")
[ -z "$lines" ] && exit 0
echo "slowmatch: not here yet: $(packages "$lines")" >&2
if [ "$manager" != apt-get ]; then
    advise "$manager" "$lines" >&2
    exit 1
fi
install_by_apt "$(packages "$lines")" || exit 1
lines=$(missing "$column" "$@")
[ -z "$lines" ] && exit 0
echo "slowmatch: installed, and still not found:" >&2
advise none "$lines" >&2
exit 1
