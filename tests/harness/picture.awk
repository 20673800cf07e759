# A picture for a document, of what `render --report` drew: awk -f picture.awk REPORT.html
# Takes the take along the time, its faults and the sentence about it out of the page and puts them into an SVG that
# stands alone. Colours and shapes are the page's (page_parts.c); nothing is drawn here that the page does not have.

# What stands between two marks of a line.
function between(line, from, to,   at) {
    at = index(line, from)
    if (!at) return ""
    line = substr(line, at + length(from))
    return substr(line, 1, index(line, to) - 1)
}

function text(x, y, class, words) { printf "<text x=\"%.1f\" y=\"%.1f\" class=\"%s\">%s</text>\n", x, y, class, words }

# The sentence over the picture, in lines of about as many letters.
function lines(words, most,   part, n, i, line) {
    n = split(words, part, " ")
    for (i = 1; i <= n; i++) {
        if (line != "" && length(line) + length(part[i]) > most) {
            head[++heads] = line
            line = ""
        }
        line = line (line == "" ? "" : " ") part[i]
    }
    head[++heads] = line
}

/^<p class="head">/ && !heads { lines(between($0, "<p class=\"head\">", "</p>"), 118) }
/^<div class="ribbon">/ && !ribbons { ribbons = 1; inside = "ribbon"; next }
/^<\/div>/ { inside = inside == "ribbon" ? "" : inside }
/^<div class="times">/ && !times {
    rest = $0
    while ((at = index(rest, "<span style=\"left:")) > 0) {
        rest = substr(rest, at + 18)
        left[++times] = substr(rest, 1, index(rest, "%") - 1)
        time[times] = between(rest, ">", "<")
    }
}
/^<div class="lane">/ { name[++lanes] = between($0, "<b>", "</b>"); inside = "lane"; next }
/^<h2[^>]*>Hear it/ { exit }
/^<\/svg>/ { next }
inside == "ribbon" { shape[++shapes] = $0 }
inside == "lane" && /^<path/ { mark[lanes] = $0 }

END {
    if (!heads || !shapes || !times) {
        print "picture: this is no page of render --report" >"/dev/stderr"
        exit 1
    }
    top = 18 * heads + 14
    under = top + 160
    height = under + 32 + 34 * lanes
    printf "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 1000 %d\" role=\"img\">\n", height
    print "<title>The demo's take along the time, before above and after below, and its faults</title>"
    print "<!-- make picture writes this file -->"
    print "<style>"
    print ":root{--paper:#fbfaf6;--ink:#20262e;--soft:#5a626c;--before:#a8590f;--after:#0b6a7e;--fault:#8c2057}"
    print "@media(prefers-color-scheme:dark){:root{--paper:#15191e;--ink:#e9e6df;--soft:#a5acb4;--before:#e8a45c;"
    print "--after:#67c1d3;--fault:#f08fbb}}"
    print ".paper{fill:var(--paper)}text{font:14px system-ui,sans-serif;fill:var(--ink)}text.scale{fill:var(--soft)}"
    print ".head{font-size:16px}.name{fill:var(--fault);font-weight:600}.axis{stroke:var(--soft)}"
    print ".before{fill:var(--before);stroke:var(--before)}.after{fill:var(--after);stroke:var(--after)}"
    print ".outline{fill-opacity:.12;stroke:none}.bar{fill-opacity:.55}"
    print ".before.bar{fill-opacity:.3;stroke-dasharray:4 2}"
    print ".moment{fill:none;stroke:var(--fault);stroke-width:1.5;stroke-dasharray:2 2}"
    print ".fault{fill:none;stroke:var(--fault);stroke-width:4}"
    print "</style>"
    printf "<rect width=\"1000\" height=\"%d\" class=\"paper\"/>\n", height
    for (i = 1; i <= heads; i++) text(8, 18 * i, "head", head[i])
    printf "<g transform=\"translate(0 %d)\">\n", top
    for (i = 1; i <= shapes; i++) print shape[i]
    text(8, 16, "scale", "before")
    text(8, 154, "scale", "after")
    print "</g>"
    for (i = 1; i <= times; i++) text(10 * left[i] + (i == 1 ? 2 : -14), under + 16, "scale", time[i])
    for (i = 1; i <= lanes; i++) {
        text(8, under + 40 + 34 * (i - 1), "name", name[i])
        printf "<g transform=\"translate(0 %d)\">%s</g>\n", under + 44 + 34 * (i - 1), mark[i]
    }
    print "</svg>"
}
