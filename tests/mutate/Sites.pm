# Where the code and the descriptors can be broken, and how: every mutant of a file.
#
# C is taken apart into tokens once comments, strings and most preprocessor lines are blanked out. A mutant changes
# one token or drops one statement: an operator for its opposite, a constant by 10 % (a small whole one by 1), a
# statement left out, a clamp left out or turned round. `<` and `<=` are exchanged where whole numbers are compared;
# between real numbers that would change nothing, so there the comparison is turned round. In Turtle: a number of a
# range or a default by 10 %, a unit for another, a hint left out.
package Sites;
use strict;
use warnings;

my %other = (
    '+' => ['-'], '-' => ['+'], '*' => ['/'], '/' => ['*'], '%' => ['*'], '&' => ['|'], '|' => ['&'], '<<' => ['>>'],
    '>>' => ['<<'], '==' => ['!='], '!=' => ['=='], '&&' => ['||'], '||' => ['&&'], '+=' => ['-='], '-=' => ['+='],
    '*=' => ['/='], '/=' => ['*='], '&=' => ['|='], '|=' => ['&='], '++' => ['--'], '--' => ['++'],
);
my %edge = ('<' => '<=', '<=' => '<', '>' => '>=', '>=' => '>');
my %turned = ('<' => '>', '<=' => '>=', '>' => '<', '>=' => '<=');
my %clamp = (fmin => 'fmax', fmax => 'fmin', fminf => 'fmaxf', fmaxf => 'fminf', fabs => '', fabsf => '', dsp_clamp => '',
    floor => 'ceil', ceil => 'floor', round => '', lround => '');
my %unit = (hz => 'khz', db => 'pc', ms => 's', s => 'ms', oct => 'db', pc => 'db', frame => 'ms', midiNote => 'hz',
    semitone12TET => 'cent', cent => 'semitone12TET');
my $keyword = qr/^(?:return|case|default|goto|break|continue|if|else|for|while|do|switch|sizeof|typedef|static|const|
    extern|enum|struct|union|inline|unsigned|int|char|float|double|void|_Static_assert)$/x;

# Mutants of a file's text: {at, length, to, line (from 1), from}, in the order of the text.
sub of_file {
    my ($file, $text, $whole) = @_;
    my @sites = $file =~ /\.ttl$/ ? of_turtle($text) : of_c($text, $whole);
    my @start = (0);
    push @start, $+[0] while $text =~ /\n/g;
    my $line = 0;
    for my $site (sort { $a->{at} <=> $b->{at} || $a->{to} cmp $b->{to} } @sites) {
        ++$line while $line + 1 < @start && $start[$line + 1] <= $site->{at};
        $site->{file} = $file;
        $site->{line} = $line + 1;
        $site->{from} = substr($text, $site->{at}, $site->{length});
    }
    return sort { $a->{at} <=> $b->{at} || $a->{to} cmp $b->{to} } @sites;
}

# ---- C ----

# The text with everything blanked that is not code to break; as long as before, line for line.
sub code_of {
    my ($text) = @_;
    my $blank = sub { $_[0] =~ s/[^\n]/ /gr };
    $text =~ s{(//[^\n]*|/\*.*?\*/|^[ \t]*\#[ \t]*(?:include|ifn?def|if|endif|else|elif|error|pragma|undef)\b[^\n]*
        |\b_Static_assert\(.*?\);)|("(?:\\.|[^"\\\n])*"|'(?:\\.|[^'\\\n])*')}
        {defined $1 ? $blank->($1) : 'S' x length $2}gmsex;
    return $text;
}

sub tokens_of {
    my ($code) = @_;
    my @tokens;
    while ($code =~ /\G\s*(?:([A-Za-z_]\w*)|((?:0[xX][0-9a-fA-F]+|(?:\d+\.?\d*|\.\d+)(?:[eE][-+]?\d+)?)[uUlLfF]*)
        |(<<=|>>=|->|\+\+|--|<<|>>|[-+*\/%<>=!&|^]=|&&|\|\||.))/gcxs) {
        my $kind = defined $1 ? 'name' : defined $2 ? 'number' : 'sign';
        my $token = $1 // $2 // $3;
        push @tokens, {text => $token, kind => $kind, at => pos($code) - length $token};
    }
    return @tokens;
}

# Names that a file declares as whole numbers.
sub whole_names {
    my ($text) = @_;
    my %whole;
    my $code = code_of($text);
    while ($code =~ /\b(?:u?int\d+_t|size_t|int|long)\s+(\*?\w+[^;{}()=]*)/g) {
        for my $declared (split /,/, $1) {
            my ($type, $name) = $declared =~ /^\s*(\w+\s+)?\*?(\w+)/ or next;
            $whole{$name} = 1 unless defined $type && $type !~ /^(?:u?int\d+_t|size_t|int|long)\s/;
        }
    }
    while ($code =~ /\benum\s*\w*\s*\{([^}]*)\}/g) {
        $whole{$_} = 1 for $1 =~ /(?:^|,)\s*(\w+)/g;
    }
    return %whole;
}

sub of_c {
    my ($text, $whole) = @_;
    my $code = code_of($text);
    my @t = tokens_of($code);
    return (of_operators($code, \@t, $whole), of_constants(\@t), of_statements(\@t), of_clamps($code, \@t));
}

sub change {
    my ($token, $to) = @_;
    return {at => $token->{at}, length => length $token->{text}, to => $to};
}

sub of_operators {
    my ($code, $t, $whole) = @_;
    my @sites;
    for my $i (1 .. $#$t - 1) {
        my ($token, $before, $after) = @$t[$i, $i - 1, $i + 1];
        my $sign = $token->{text};
        next unless $token->{kind} eq 'sign';
        my $operand = $before->{kind} eq 'number' || $before->{text} =~ /^[)\]]$/
            || $before->{kind} eq 'name' && $before->{text} ne 'return';
        my $spaced = substr($code, $token->{at} - 1, 1) =~ /\s/
            && substr($code, $token->{at} + length $sign, 1) =~ /\s/;
        if ($sign eq '!') { push @sites, change($token, '') }
        elsif ($sign =~ /^(?:\+\+|--)$/) { push @sites, change($token, $other{$sign}[0]) }
        elsif ($sign eq '-' && !$operand) { push @sites, change($token, '+') }
        elsif (!$spaced || !$operand) { next }
        elsif ($edge{$sign}) {
            push @sites, change($token, (compares_whole($t, $i, $whole) ? \%edge : \%turned)->{$sign});
        }
        elsif ($other{$sign}) { push @sites, map { change($token, $_) } @{$other{$sign}} }
    }
    return @sites;
}

# Whether both sides of a comparison are whole numbers, as far as names tell.
sub compares_whole {
    my ($t, $i, $whole) = @_;
    my ($left, $right) = ($i - 1, $i + 1);
    if ($t->[$left]{text} eq ']') { --$left while $left > 0 && $t->[$left]{text} ne '['; --$left }
    ++$right while $right < $#$t && $t->[$right]{text} =~ /^[-(*&]$/;
    $right += 2 while $right + 2 <= $#$t && $t->[$right + 1]{text} =~ /^(?:->|\.)$/;
    for my $token (@$t[$left, $right]) {
        return 0 unless $token->{kind} eq 'number' ? $token->{text} =~ /^\d+[uUlL]*$/ : $whole->{$token->{text}};
    }
    return 1;
}

sub of_constants {
    my ($t) = @_;
    return map { my $token = $_; map { change($token, $_) } numbers_beside($token->{text}) }
        grep { $_->{kind} eq 'number' } @$t;
}

# The numbers 10 % off a literal, or 1 off a small whole one; none for 0 and for bit patterns.
sub numbers_beside {
    my ($literal) = @_;
    my ($number, $suffix) = $literal =~ /^([^uUlLfF]+)([uUlLfF]*)$/ or return;
    return if $literal =~ /^0[xX]/ || $number == 0;
    return map { "$_$suffix" } $number + 1, $number > 1 ? $number - 1 : () if $number =~ /^\d+$/ && $number < 10;
    return map { sprintf '%.0f%s', $_ * $number, $suffix } 0.9, 1.1 if $number =~ /^\d+$/;
    return map { my $n = sprintf '%.12g', $_ * $number; ($n =~ /[.e]/ ? $n : "$n.0") . $suffix } 0.9, 1.1;
}

# Statements that are an expression: assignments, calls, counts. Left out, they leave their semicolon.
sub of_statements {
    my ($t) = @_;
    my (@sites, $depth, $starts) = ((), 0, 0);
    @sites = ();
    $depth = 0;
    for my $i (0 .. $#$t) {
        my $text = $t->[$i]{text};
        if ($starts && (my $end = end_of_statement($t, $i))) {
            push @sites, {at => $t->[$i]{at}, length => $t->[$end]{at} - $t->[$i]{at}, to => ''};
        }
        ++$depth if $text eq '(';
        --$depth if $text eq ')';
        $starts = $depth == 0 && ($text =~ /^(?:[;{}]|else)$/ || $text eq ')' && closes_condition($t, $i));
    }
    return @sites;
}

sub end_of_statement {
    my ($t, $i) = @_;
    my ($first, $second, $third) = map { $t->[$_] // {text => '', kind => ''} } $i, $i + 1, $i + 2;
    return if $first->{text} =~ $keyword || $first->{kind} eq 'number';
    return if $first->{kind} eq 'sign' && $first->{text} !~ /^(?:\*|\+\+|--)$/;
    return if $first->{kind} eq 'name' && ($second->{kind} eq 'name' || $second->{text} =~ /^[*:,;]$/);
    my $depth = 0;
    for my $k ($i .. $#$t) {
        my $text = $t->[$k]{text};
        ++$depth if $text =~ /^[({\[]$/;
        --$depth if $text =~ /^[)}\]]$/;
        return if $depth < 0 || $text eq '{' && $t->[$k - 1]{text} !~ /^[)=,{]$/;
        return $k if $depth == 0 && $text eq ';';
    }
    return;
}

sub closes_condition {
    my ($t, $i) = @_;
    my $depth = 0;
    for (my $k = $i; $k > 0; --$k) {
        ++$depth if $t->[$k]{text} eq ')';
        --$depth if $t->[$k]{text} eq '(';
        return $t->[$k - 1]{text} =~ /^(?:if|for|while)$/ if $depth == 0;
    }
    return 0;
}

# A clamp left out gives its first argument.
sub of_clamps {
    my ($code, $t) = @_;
    my @sites;
    for my $i (0 .. $#$t - 1) {
        my $name = $t->[$i]{text};
        next unless exists $clamp{$name} && $t->[$i + 1]{text} eq '(';
        push @sites, change($t->[$i], $clamp{$name}) if $clamp{$name};
        my ($depth, $comma, $k) = (0, undef, $i + 1);
        for (; $k <= $#$t; ++$k) {
            ++$depth if $t->[$k]{text} =~ /^[({\[]$/;
            --$depth if $t->[$k]{text} =~ /^[)}\]]$/;
            last if $depth == 0;
            $comma //= $t->[$k]{at} if $depth == 1 && $t->[$k]{text} eq ',';
        }
        next if $k > $#$t || $name =~ /^(?:floor|ceil)$/;
        my $from = $t->[$i + 1]{at};
        my $inside = substr($code, $from + 1, ($comma // $t->[$k]{at}) - $from - 1);
        push @sites, {at => $t->[$i]{at}, length => $t->[$k]{at} + 1 - $t->[$i]{at}, to => "($inside)"};
    }
    return @sites;
}

# ---- Turtle ----

sub of_turtle {
    my ($text) = @_;
    my @sites;
    while ($text =~ /^\t\tlv2:(?:default|minimum|maximum) (-?[\d.]+) ;$/mg) {
        my ($at, $number) = ($-[1], $1);
        my ($minus, $size) = $number =~ /^(-?)(.*)$/;
        my @zero = $size =~ /\./ ? ('0.5', '-0.5') : ('1', '-1');
        my @beside = $size == 0 ? @zero : map { "$minus$_" } numbers_beside($size);
        push @sites, map { {at => $at, length => length $number, to => $_} } @beside;
    }
    while ($text =~ /^\t\tunits:unit units:(\w+) ;$/mg) {
        push @sites, {at => $-[1], length => length $1, to => $unit{$1}} if $unit{$1};
    }
    while ($text =~ /^\t\tlv2:portProperty ([^;\n]*) ;\n/mg) {
        my ($line, $end, $list) = ($-[0], $+[0], $1);
        my $at = $-[1];
        my @hints = split / , /, $list;
        push @sites, {at => $line, length => $end - $line, to => ''} if @hints == 1;
        next if @hints == 1;
        for my $k (0 .. $#hints) {
            push @sites, {at => $at, length => length $list, to => join(' , ', @hints[grep { $_ != $k } 0 .. $#hints])};
        }
    }
    return @sites;
}

1;
