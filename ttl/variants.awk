# Expands one descriptor of ttl/ to its two variants: awk -v stereo=0|1 -f variants.awk trim.ttl
#
# The descriptor itself is the mono variant without its audio ports. The line "# variants: 1 in 1 out, stereo 2 in 2 out"
# says how many audio channels each has; their ports follow the last control port, so that both variants share port indices.

/^# variants: / {
    if (!match($0, /^# variants: [12] in [12] out, stereo [12] in [12] out$/)) {
        print FILENAME ": cannot read: " $0 > "/dev/stderr"
        exit 1
    }
    ins = stereo ? $8 : $3
    outs = stereo ? $10 : $5
    next
}

/^<urn:linctus:[a-z]+>$/ {
    uri = substr($0, 2, length($0) - 2)
    if (stereo)
        uri = uri "-stereo"
    print "<" uri ">"
    next
}

stereo && /^\tdoap:name / { sub(/" ;$/, " Stereo\" ;") }

/^\t\tlv2:index / { ports = $2 + 1 }

{ print }

function group(name, label, channels)
{
    printf "\n<%s#%s>\n\ta pg:%s , pg:%s ;\n\tlv2:symbol \"%s\" ;\n\tlv2:name \"%s\" .\n", uri, name,
        channels == 2 ? "StereoGroup" : "MonoGroup", name == "audio_in" ? "InputGroup" : "OutputGroup", name, label
}

function audio(direction, channels, group_name, symbol, label,    c, side)
{
    for (c = 0; c < channels; ++c) {
        side = channels == 1 ? "" : c == 0 ? "left" : "right"
        printf "%s\n\t\ta lv2:%sPort , lv2:AudioPort ;\n\t\tlv2:index %d ;\n\t\tlv2:symbol \"%s\" ;\n\t\tlv2:name \"%s\" ;\n", \
            first_audio++ ? "\t] , [" : "\tlv2:port [", direction, ports++, symbol (side ? "_" side : ""), label (side ? " " side : "")
        printf "\t\tlv2:designation pg:%s ;\n\t\tpg:group <%s#%s>\n", side ? side : "center", uri, group_name
    }
}

END {
    print "\n@prefix pg: <http://lv2plug.in/ns/ext/port-groups#> ."
    group("audio_in", "Input", ins)
    group("audio_out", "Output", outs)
    printf "\n<%s>\n\tpg:mainInput <%s#audio_in> ;\n\tpg:mainOutput <%s#audio_out> ;\n", uri, uri, uri
    audio("Input", ins, "audio_in", "in", "In")
    audio("Output", outs, "audio_out", "out", "Out")
    print "\t] ."
}
