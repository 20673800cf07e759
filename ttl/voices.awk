# Writes the C header of the values that Chain's processors have for each voice, and of what Chain's own controls set in
# their place: awk -v row="trim tone ..." -f voices.awk ttl/trim.ttl ttl/tone.ttl ... ttl/chain.ttl presets/*.ttl
#
# A value is that of the voice's preset, else the port's default. In chain.ttl a line "# sets: tone low_cut" of a port
# names the processor's port that it stands for: both have the same range and default, and Chain's presets the same
# values as the processor's. Layout: as ports.awk has it.

function fail(why)
{
    printf "%s:%d: %s\n", FILENAME, FNR, why > "/dev/stderr"
    failed = 1
    exit 1
}

function text(line)
{
    match(line, /"[^"]*"/)
    return substr(line, RSTART + 1, RLENGTH - 2)
}

BEGIN {
    stages = split(row, stage, " ")
    for (s = 1; s <= stages; ++s)
        number[stage[s]] = s
}

FNR == 1 { plugin = preset = "" }

# ---- Ports ----
/^<urn:linctus:[a-z]+>$/ { split($0, part, /[:>]/); plugin = part[3]; port = -1 }
plugin && /^\t(lv2:port \[|\] , \[)/ { ++port; ports[plugin] = port + 1 }
plugin && /^\t\t# sets: / { sets[port] = sets[port] $3 ":" $4 " " }
plugin && /^\t\tlv2:symbol /  { symbol[plugin, port] = text($0); at[plugin, text($0)] = port }
plugin && /^\t\tlv2:default / { def[plugin, port] = $2 + 0 }
plugin && /^\t\tlv2:minimum / { min[plugin, port] = $2 + 0 }
plugin && /^\t\tlv2:maximum / { max[plugin, port] = $2 + 0 }
plugin == "chain" && /^\t\tlv2:scalePoint / && symbol[plugin, port] == "voice" {
    match($0, /rdf:value [0-9]+/)
    label[substr($0, RSTART + 10, RLENGTH - 10) + 0] = text($0)
    ++voices
}

# ---- Presets ----
/^<urn:linctus:[a-z]+:preset:/ { split($0, part, /[:>]/); plugin = ""; preset = part[3]; voice = 0 }
preset && /^\trdfs:label "/ {
    numbered = text($0)
    voice = numbered + 0
    sub(/^[0-9]+ /, "", numbered)
    if (voice >= voices)
        preset = "" # no voice: where Plate stands
    else if (tolower(numbered) != tolower(label[voice]))
        fail("voice " voice " is " label[voice] " in chain.ttl")
}
preset && /^\tlv2:port \[ lv2:symbol / {
    split($0, part, /pset:value /)
    value[preset, voice, text($0)] = part[2] + 0
    given[preset, voice, text($0)] = 1
}

function value_of(p, v, k)
{
    return given[p, v, symbol[p, k]] ? value[p, v, symbol[p, k]] : def[p, k]
}

function check(k, p, other,    v, name)
{
    if (def["chain", k] != def[p, other] || min["chain", k] != min[p, other] || max["chain", k] != max[p, other])
        fail(symbol["chain", k] " has another range or default than " symbol[p, other] " of " p)
    for (v = 1; v < voices; ++v) {
        name = symbol["chain", k]
        if (given["chain", v, name] != given[p, v, symbol[p, other]])
            fail("the preset of " label[v] " has to set " name " for both Chain and " p ", or for neither")
        if (given["chain", v, name] && value["chain", v, name] != value[p, v, symbol[p, other]])
            fail("the preset of " label[v] ": " name " is another one than " symbol[p, other] " of " p)
    }
}

END {
    if (failed)
        exit 1
    if (!voices || !ports["chain"])
        fail("chain.ttl has no voices")
    for (v = 1; v < voices; ++v)
        if (value["chain", v, "voice"] != v)
            fail("Chain's preset of " label[v] " does not set voice to " v)
    print "/* What Chain's processors have for each voice. Made from ttl and presets: do not edit. */"
    print "#ifndef LINCTUS_CHAIN_VOICES_H\n#define LINCTUS_CHAIN_VOICES_H\n\n#include \"shell.h\"\n\nenum {"
    for (s = 1; s <= stages; ++s)
        printf "    CHAIN_%s,\n", toupper(stage[s])
    for (s = 1; s <= stages; ++s)
        most = ports[stage[s]] > most ? ports[stage[s]] : most
    printf "    CHAIN_STAGES,\n    CHAIN_VOICES = %d,\n    CHAIN_MOST = %d, /* ports of a stage */\n};\n\n", voices, most
    print "static const float chain_voice[CHAIN_VOICES][CHAIN_STAGES][CHAIN_MOST] = {"
    for (v = 0; v < voices; ++v) {
        printf "    { /* %s */\n", label[v]
        for (s = 1; s <= stages; ++s) {
            printf "        {"
            for (k = 0; k < ports[stage[s]]; ++k)
                printf "%s(float)%.9g", k ? ", " : "", value_of(stage[s], v, k)
            print "},"
        }
        print "    },"
    }
    print "};\n\n/* A control of Chain, and the control of which processor it stands for. */"
    print "static const struct {\n    uint32_t port, stage, sets;\n} chain_sets[] = {"
    for (k = 0; k < ports["chain"]; ++k)
        for (n = split(sets[k], wanted, " "); n > 0; --n) {
            split(wanted[n], part, ":")
            if (!(part[1] in number) || !((part[1], part[2]) in at))
                fail(symbol["chain", k] " sets " part[1] " " part[2] ", which is not there")
            check(k, part[1], at[part[1], part[2]])
            printf "    {%d, CHAIN_%s, %d},\n", k, toupper(part[1]), at[part[1], part[2]]
        }
    print "};\n\n#endif"
}
