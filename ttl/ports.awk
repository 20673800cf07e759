# Writes the C header of a plug-in's ports from its descriptor: awk -v name=trim -f ports.awk trim.ttl
#
# It reads Turtle a line at a time and relies on the layout of ttl/: one property a line, a port between "lv2:port [" or
# "] , [" and a line that starts with "\t]". The bundle's tests compare what comes out with what lilv reads.

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

function upper(s)
{
    gsub(/[^A-Za-z0-9]+/, "_", s)
    return toupper(s)
}

/^# variants: / {
    mono_in = $3; mono_out = $5 + 0; stereo_in = $8; stereo_out = $10
}

/^<urn:linctus:[a-z]+>$/ { uri = substr($0, 2, length($0) - 2) }

/^\t(lv2:port \[|\] , \[)/ {
    ++n
    index_of[n] = -1
}

/^\t\ta lv2:(Input|Output)Port , lv2:ControlPort ;$/ { kind[n] = /lv2:InputPort/ ? "SHELL_CONTROL" : "SHELL_METER" }
/^\t\tlv2:index /   { index_of[n] = $2 }
/^\t\tlv2:symbol /  { symbol[n] = text($0) }
/^\t\tlv2:default / { def[n] = $2 }
/^\t\tlv2:minimum / { min[n] = $2 }
/^\t\tlv2:maximum / { max[n] = $2 }
/^\t\tlv2:portProperty / && /lv2:integer/ { whole[n] = 1 }

# What a person can read of a read-out: tenths of a dB, whole Hz and per cent, else hundredths.
/^\t\tunits:unit / { step[n] = /units:db|"dB|"LU/ ? 0.1 : /units:(hz|pc) / ? 1 : 0.01 }

/^\t\tlv2:scalePoint / {
    label = text($0)
    match($0, /rdf:value -?[0-9]+/)
    choice[n] = choice[n] sprintf("    %s_%s_%s = %s,\n", upper(name), upper(symbol[n]), upper(label), substr($0, RSTART + 10, RLENGTH - 10))
}

END {
    if (failed)
        exit 1
    if (!uri || !mono_in)
        fail("no plug-in or no line of variants")
    big = upper(name)
    printf "/* The ports of %s. Made from ttl/%s.ttl: do not edit. */\n", uri, name
    printf "#ifndef LINCTUS_PORTS_%s_H\n#define LINCTUS_PORTS_%s_H\n\n#include \"shell.h\"\n\nenum {\n", big, big
    for (i = 1; i <= n; ++i) {
        if (index_of[i] != i - 1 || !symbol[i] || !kind[i] || def[i] == "" || min[i] == "" || max[i] == "")
            fail("port " i " (" symbol[i] ") lacks its index in order, its symbol, kind, default, minimum or maximum")
        if (kind[i] == "SHELL_CONTROL" && kind[i - 1] == "SHELL_METER")
            fail("the control " symbol[i] " comes behind a read-out")
        printf "    %s_%s = %d,\n", big, upper(symbol[i]), i - 1
    }
    printf "    %s_PORTS = %d,\n};\n", big, n
    for (i = 1; i <= n; ++i)
        if (choice[i])
            printf "\nenum {\n%s};\n", choice[i]
    printf "\n#define %s_URI \"%s\"\n#define %s_STEREO_URI \"%s-stereo\"\n", big, uri, big, uri
    printf "\nstatic const ShellPort %s_port[] = {\n", name
    for (i = 1; i <= n; ++i)
        printf "    {\"%s\", %s, %s, (float)%s, (float)%s, (float)%s, %s},\n", symbol[i], kind[i], whole[i] ? "true" : "false", def[i], min[i], max[i], whole[i] ? 1 : step[i] ? step[i] : 0.01
    printf "};\n\nstatic const ShellVariant %s_variant[SHELL_VARIANTS] = {\n", name
    printf "    {%s_URI, %s, %s},\n    {%s_STEREO_URI, %s, %s},\n};\n\n#endif\n", big, mono_in, mono_out, big, stereo_in, stereo_out
}
