# Writes the bundle's manifest: awk -v names="trim tone" -v suffix=so -f manifest.awk presets/*.ttl
#
# Of the presets it takes each subject, what it applies to and its label, for both variants.
# Hosts read no files but those that the manifest names: linctus.ttl, which says whose project it is, is one of them.

BEGIN {
    print "@prefix lv2:  <http://lv2plug.in/ns/lv2core#> ."
    print "@prefix pset: <http://lv2plug.in/ns/ext/presets#> ."
    print "@prefix rdfs: <http://www.w3.org/2000/01/rdf-schema#> .\n"
    count = split(names, name, " ")
    for (i = 1; i <= count; ++i) {
        known[name[i]] = 1
        plugin(name[i], "")
        plugin(name[i], "-stereo")
    }
}

function plugin(which, variant)
{
    printf "<urn:linctus:%s%s>\n\ta lv2:Plugin ;\n\tlv2:binary <%s.%s> ;\n\trdfs:seeAlso <%s%s.ttl> , <linctus.ttl> .\n\n", which, variant, which, suffix, which, variant
}

function preset(which, voice, label, variant)
{
    printf "<urn:linctus:%s%s:preset:%s>\n\ta pset:Preset ;\n\tlv2:appliesTo <urn:linctus:%s%s> ;\n\trdfs:label \"%s\" ;\n\trdfs:seeAlso <presets%s.ttl> .\n\n", \
        which, variant, voice, which, variant, label, variant
}

/^<urn:linctus:[a-z]+:preset:[a-z-]+>$/ {
    split($0, part, /[:>]/)
    if (!known[part[3]]) {
        printf "%s:%d: a preset for a plug-in that is not there: %s\n", FILENAME, FNR, part[3] > "/dev/stderr"
        exit 1
    }
}

/^\trdfs:label "/ {
    match($0, /"[^"]*"/)
    label = substr($0, RSTART + 1, RLENGTH - 2)
    preset(part[3], part[5], label, "")
    preset(part[3], part[5], label, "-stereo")
}
