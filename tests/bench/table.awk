# Puts the tables of build/bench.txt together from what tests/bench/run.sh has measured:
# race.txt (name, ns; several rounds; ours once with the widest vectors of this machine, which are of eight floats where
# `eights` is 1, and once with vectors of four), pair.txt (channels, mode, ns of Chain and of its five), rows.txt (a case, ns), counts.txt (a case, instructions of two seconds), blocks.txt,
# memory.txt. A limit that is not kept is told below the tables.

BEGIN { FS = "|" }

FILENAME ~ /race/   { if (!($1 in race) || $2 < race[$1]) race[$1] = $2 }
FILENAME ~ /pair/   { chain[$1, $2] = $3; five_of[$1, $2] = $4 }
FILENAME ~ /rows/   { keep($1 "|" $2); ns[$1, $2, $3, $4, $5] = $6 }
FILENAME ~ /counts/ { count[$1, $2, $3, $4, $5] = $6 / (2 * $4) }
FILENAME ~ /blocks/ { costliest[$1, $2] = $3 }
FILENAME ~ /memory/ { memory[$1, $2] = $3; made[$1, $2] = $4 }

function keep(subject) { if (!(subject in known)) { known[subject] = 1; order[++subjects] = subject } }
function over(what, value, limit, unit) { if (value > limit) complaint[++complaints] = sprintf("%s: %.3g%s, limit %.3g", what, value, unit, limit) }
function under(what, value, limit, unit) { if (value < limit) complaint[++complaints] = sprintf("%s: %.3g%s, wanted at least %.3g", what, value, unit, limit) }

# ns, and instructions where they were counted.
function cost(s, c, mode, rate, block,    text) {
    if (!((s, c, mode, rate, block) in ns)) return ""
    text = sprintf("%.1f", ns[s, c, mode, rate, block])
    return (s, c, mode, rate, block) in count ? text sprintf(" (%.0f)", count[s, c, mode, rate, block]) : text
}

# Instructions repeat, times do not: a ratio is theirs where they were counted.
function ratio(s, c, mode, block, s2, c2, mode2, block2) {
    if ((s, c, mode, 48000, block) in count && (s2, c2, mode2, 48000, block2) in count)
        return count[s, c, mode, 48000, block] / count[s2, c2, mode2, 48000, block2]
    return ns[s, c, mode, 48000, block] / ns[s2, c2, mode2, 48000, block2]
}

function raced(name, against, least,    r) {
    r = race[against] / race[name]
    printf "| %s | %.1f | %.2f times as fast as %s | at least %.1f |\n", name, race[name], r, substr(against, 1, index(against, ":") - 1), least
    under(name " against " substr(against, 1, index(against, ":") - 1), r, least, " times")
}

# Chain beside its five: neither time nor instructions may be more.
function beside(mode, c,    what, one, five, time, instructions) {
    what = (mode == "hold" ? "on hold" : "learning") ", " (c == 1 ? "mono" : "stereo")
    time = chain[c, mode] / five_of[c, mode]
    over("chain beside the five in a row, " what ", time", time, 1, " times")
    one = five = instructions = ""
    if (("its five", c, mode, 48000, 256) in count) {
        one = sprintf(" (%.0f)", count["Chain", c, mode, 48000, 256]); five = sprintf(" (%.0f)", count["its five", c, mode, 48000, 256])
        instructions = count["Chain", c, mode, 48000, 256] / count["its five", c, mode, 48000, 256]
        over("chain beside the five in a row, " what ", instructions", instructions, 1, " times")
        instructions = sprintf("%.3f times", instructions)
    }
    printf "| %s | %.1f%s | %.1f%s | %.3f times | %s |\n", what, chain[c, mode], one, five_of[c, mode], five, time, instructions
}

# vectors: with which; least: how many times SoX's speed on hold.
function race_of(vectors, least) {
    raced(five ", hold, " vectors, sox, least)
    raced(five ", learn, " vectors, sox, 0.5)
    raced("Tone and Compressor, hold, " vectors, ffmpeg, 2)
}

function tracks(mode) { return 1e9 / 48000 / race[five ", " mode ", the widest vectors"] }

END {
    sox = "SoX: low cut, three bells, shelf, compand, reverb"
    ffmpeg = "FFmpeg: low cut, three bells, shelf, compressor"
    five = "the five in a row"
    printf "On %s. A frame is a sample of each channel; 48 kHz, blocks of 256, mono where nothing else is said.\n\n", machine
    print "| raced in turns, in one run | ns a frame | | wanted |\n|---|---:|---|---|"
    printf "| %s | %.1f | | |\n| %s | %.1f | | |\n", sox, race[sox], ffmpeg, race[ffmpeg]
    race_of("the widest vectors", eights ? 1.4 : 1.2)
    race_of("vectors of four", 1.2)
    printf "\nOne core plays the five on hold in real time on %d mono tracks, learning on %d.\n\n", tracks("hold"), tracks("learn")

    print "| ns a frame (instructions) | learning | on hold | off | silence after it | blocks of 16 | 64 | 1024 | 96 kHz, on hold | 96 kHz, learning |"
    print "|---|---:|---:|---:|---:|---:|---:|---:|---:|---:|"
    for (k = 1; k <= subjects; ++k) {
        split(order[k], part, "|"); s = part[1]; c = part[2]
        printf "| %s, %s | %s | %s | %s | %s | %s | %s | %s | %s | %s |\n", s, c == 1 ? "mono" : "stereo",
            cost(s, c, "learn", 48000, 256), cost(s, c, "hold", 48000, 256), cost(s, c, "off", 48000, 256), cost(s, c, "silence", 48000, 256),
            cost(s, c, "hold", 48000, 16), cost(s, c, "hold", 48000, 64), cost(s, c, "hold", 48000, 1024),
            cost(s, c, "hold", 96000, 256), cost(s, c, "learn", 96000, 256)
        name = s ", " (c == 1 ? "mono" : "stereo")
        stages = s == five ? 5 : 1
        if (s != "check") over(name ", off", ns[s, c, "off", 48000, 256], 5 * stages, " ns")
        over(name ", silence beside voice", ratio(s, c, "silence", 256, s, c, "hold", 256), 1.02, " times")
        over(name ", blocks of 64 beside 1024", ratio(s, c, "hold", 64, s, c, "hold", 1024), 1.2, " times")
        if (c == 2) over(s ", stereo beside mono", ratio(s, 2, "hold", 256, s, 1, "hold", 256), s == "plate" ? 1.15 : 1.6, " times")
    }

    print "\n| with the same settings and findings, raced in turns, in one run: ns a frame (instructions) | Chain | its five in a row | time | instructions |"
    print "|---|---:|---:|---:|---:|"
    for (c = 1; c <= 2; ++c) { beside("hold", c); beside("learn", c) }

    print "\n| an instance, 48 kHz | memory, KiB | made in, ms | costliest block of 64 while learning, beside the usual one |\n|---|---:|---:|---:|"
    for (k = 1; k <= subjects; ++k) {
        split(order[k], part, "|"); s = part[1]; c = part[2]
        name = s ", " (c == 1 ? "mono" : "stereo")
        printf "| %s | %s | %s | %.1f times |\n", name, (s, c) in memory ? memory[s, c] : "", (s, c) in made ? sprintf("%.2f", made[s, c]) : "", costliest[s, c]
        over(name ", costliest block", costliest[s, c], 3, " times")
        if ((s, c) in memory) {
            over(name ", memory", memory[s, c], s == "plate" || s == "tone" ? 512 : 64, " KiB")
            over(name ", made in", made[s, c], 2, " ms")
        }
    }
    print complaints ? "\nLimits that are not kept:\n" : "\nEvery limit is kept."
    for (k = 1; k <= complaints; ++k) print "- " complaint[k]
}
