# Makes a man page of what `render --help` prints: awk -v name=NAME -v version=VERSION -f man.awk
# The help begins with a line of what the program does. Then come, with an empty line between, its command lines
# (indented), paragraphs, options, paragraphs, and the exit statuses, which are a table of their own. An option's text
# stands from column 19 on.

function plain(text) {
    gsub(/\\/, "\\e", text)
    gsub(/-/, "\\-", text)
    return text ~ /^[.']/ ? "\\&" text : text
}

function section(title) {
    if (title != at) print ".SH " title
    at = title
}

function option(line,   text) {
    text = substr(line, 18, 1) == " " ? substr(line, 19) : ""
    line = text == "" ? line : substr(line, 1, 17)
    gsub(/^ +| +$/, "", line)
    print ".TP\n.B " plain(line)
    if (text != "") print plain(text)
}

NR == 1 {
    print ".TH " toupper(name) " 1 \"\" \"Linctus " version "\" \"Linctus\""
    section("NAME")
    print plain(name) " \\- " plain(tolower(substr($0, 1, 1)) substr($0, 2))
    next
}
!NF { empty = 1; next }
/^  render / {
    section("SYNOPSIS")
    print ".B " plain(name) "\n" plain(substr($0, 10)) "\n.br"
    next
}
/^Exit status:/ { section("EXIT STATUS"); print ".nf"; table = 1; next }
table && /^[^ ]/ { print ".fi"; table = 0 }
table { print plain($0); next }
/^  -/ { section("OPTIONS"); option($0); options = 1; next }
/^                  / { print plain(substr($0, 19)); next }
{
    if (at != "EXIT STATUS") section(options ? "HOW IT WORKS" : "DESCRIPTION")
    if (empty) print ".PP"
    empty = 0
    print plain($0)
}
