# Writes ttl/CONTROLS.md from the descriptors: awk -f controls.awk trim.ttl tone.ttl ...
# Enabled, Learn and Latency are the same everywhere. Every other control says who turns it, in a line "# turned by:" of its
# port: a row that nobody turns is one too many.

BEGIN {
    print "# The controls"
    print "Written from the descriptors beside it by `make controls`; `make validate` checks that it is up to date.\n"
    print "*Enabled* is on every plug-in, for who compares with and without, and so is a read-out of its latency for the host."
    print "*Learn* is for everybody: play the take once on learn, then hold. What a person asks for comes first, then who sets"
    print "what, then the figures for the hand, then the rest; of the read-outs what was found comes first. Levels are plain RMS"
    print "(a full-scale sine reads -3 dB), except where another unit is written; a compressor's threshold counts a steady sine as"
    print "its peak level. Read-outs are rounded: 0.1 dB, 1 Hz, 1 %."
}

function fail(why)
{
    printf "%s: %s: %s\n", FILENAME, symbol, why > "/dev/stderr"
    failed = 1
}

function text(line)
{
    match(line, /"([^"\\]|\\.)*"/)
    return substr(line, RSTART + 1, RLENGTH - 2)
}

function end_of_port(    range)
{
    if (symbol && symbol != "enabled" && symbol != "latency") {
        if (choices)
            range = choices "; " chosen
        else if (toggled)
            range = "on, off; " (def + 0 ? "on" : "off")
        else
            range = min + 0 " to " max + 0 (unit ? " " unit : "") "; " def + 0
        if (meter == (who != "") && symbol != "learn")
            fail(meter ? "a read-out that somebody turns" : "nobody turns it: no line \"# turned by:\"")
        printf "| **%s** `%s` | %s | %s%s |\n", label, symbol, meter ? "shown" : range, comment, who ? " *Turned by " who ".*" : ""
    }
    symbol = label = choices = chosen = unit = comment = who = ""
    meter = toggled = 0
}

/^\tdoap:name / {
    name = text($0)
    sub(/^Linctus /, "", name)
}

/^\trdfs:comment / {
    printf "\n## %s\n%s\n\n| control or read-out | range; default | what it does |\n|---|---|---|\n", name, text($0)
}

/^\t(\] , \[|\] \.)/ { end_of_port() }
/^\t\ta lv2:OutputPort / { meter = 1 }
/^\t\t# turned by: / { who = $0; sub(/^.*turned by: /, "", who) }
/^\t\tlv2:symbol / { symbol = text($0) }
/^\t\tlv2:name / { label = text($0) }
/^\t\tlv2:default / { def = $2 }
/^\t\tlv2:minimum / { min = $2 }
/^\t\tlv2:maximum / { max = $2 }
/^\t\tlv2:portProperty .*lv2:toggled/ { toggled = 1 }
/^\t\trdfs:comment / { comment = text($0) }
/^\t\tunits:unit units:/ { unit = $2; sub(/^units:/, "", unit); sub(/^db$/, "dB", unit); sub(/^hz$/, "Hz", unit); sub(/^pc$/, "%", unit); sub(/^oct$/, "octaves", unit); sub(/^s$/, "s", unit); sub(/^frame$/, "samples", unit) }
/^\t\tunits:unit \[/ { match($0, /units:symbol "[^"]*"/); unit = substr($0, RSTART + 14, RLENGTH - 15) }

/^\t\tlv2:scalePoint / {
    value = $0
    sub(/.*rdf:value /, "", value)
    choices = choices (choices ? " / " : "") text($0)
    pending[value + 0] = text($0)
    chosen = pending[def_seen]
}

# The default may stand behind the choices.
/^\t\tlv2:default / && choices { chosen = pending[$2 + 0] }

END { exit failed }
