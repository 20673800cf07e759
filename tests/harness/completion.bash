# Completion for @NAME@. Its options are those of --help; voices and plug-ins are asked of the program itself.

_linctus_plugins() { "$1" --list 2>/dev/null | sed -n 's/^\([a-z]*\):$/\1/p' | grep -v '^voices$'; }

_linctus_voices() { "$1" --list 2>/dev/null | sed -n '2,/^[^ ]/s/^    //p'; }

# Of the lines on standard input those that begin with WORD, in any letter case.
_linctus_begins() { # WORD
    while IFS= read -r line; do
        case ${line,,} in "${1,,}"*) printf '%s\n' "$line" ;; esac
    done
}

_linctus_render() {
    local word=${COMP_WORDS[COMP_CWORD]} before=${COMP_WORDS[COMP_CWORD - 1]}
    case $before in
    --voice) mapfile -t COMPREPLY < <(_linctus_voices "$1" | _linctus_begins "$word") ;;
    --stages | --repair) # a list: its last name is to be completed
        local listed=""
        case $word in *,*) listed=${word%,*}, ;; esac
        mapfile -t COMPREPLY < <(compgen -P "$listed" -W "$(_linctus_plugins "$1")" -- "${word##*,}")
        ;;
    --bundle) mapfile -t COMPREPLY < <(compgen -d -- "$word") ;;
    *)
        case $word in
        -*) mapfile -t COMPREPLY < <(compgen -W "@OPTIONS@" -- "$word") ;;
        *) mapfile -t COMPREPLY < <(compgen -f -- "$word") ;;
        esac
        ;;
    esac
}
complete -o filenames -F _linctus_render @NAME@
