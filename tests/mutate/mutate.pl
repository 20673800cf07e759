# Breaks the code and the descriptors, one place at a time, and sees whether the tests notice: `make mutate`
#
# Every mutant that Sites.pm can make of common-dsp, plugins and ttl has a place in the order that a seed gives, which
# depends on its own line alone: a change elsewhere leaves the draw as it is. Of ten drawn, seven are of common-dsp, one
# of plugins, two of ttl. One that does not compile, or compiles to the same code, is drawn again and does not count.
#
# A mutant is applied to a copy of the tree and tried (Trial.pm) with the programs of the library that reach its line
# (Cover.pm), with those of the bundle on the plug-ins that it makes different, and, in ttl, with the list of controls
# and the validators: the cheapest first, until one fails. Then it was noticed. First every mutant meets what is quick;
# those that live meet the rest together, so that no processor waits for another, and at last the quick programs of
# the library under the sanitizers. Out of CPU time, or standing still, counts as failing: the limit is ten seconds and
# four times what the program takes on the tree as it is. A program that is missing, or fails on the tree as it is, is
# an error.
#
# tests/equivalent.txt names mutants that change nothing that matters, with the reason: they meet what is quick, and are
# counted apart.
# Exit status 0 when no more than 5 % of the sample lived, and nothing went wrong.
#
# In the environment: N (60), SEED, JOBS, BUILD, ONLY (a pattern of "file:line: from -> to").
use strict;
use warnings;
use File::Basename qw(dirname);
use lib dirname(__FILE__);
use Cover;
use Room;
use Sites;
use Trial;

my $LIVE_MOST = 0.05;
my $QUICK = 3; # s
my @TURN = qw(common-dsp common-dsp ttl common-dsp common-dsp plugins common-dsp common-dsp ttl common-dsp);
my @COUNTED = ('OPT=-O1 --coverage -DCOUNTED', 'SAME_PATHS=');

my $wanted = $ENV{N} || 60;
my $seed = length($ENV{SEED} // '') ? $ENV{SEED} : int rand 1_000_000;
my $jobs = $ENV{JOBS} || 2;
my $only = $ENV{ONLY} // '';
my $build = $ENV{BUILD} || 'build';
$Room::room = "$build/mutate";
delete @ENV{qw(MAKEFLAGS MFLAGS MAKELEVEL MAKEOVERRIDES N SEED ONLY BUILD)}; # the copies' make is none of this one's
delete @ENV{grep { /^LINCTUS_/ } keys %ENV};
my $started = time;
my %workers;
@SIG{qw(INT TERM)} = (sub { kill 'TERM', keys %workers; exit 1 }) x 2;
$| = 1;

# ---- The draw ----

# A whole number of 32 bits, from any text.
sub number_of {
    use integer;
    my $h = 2166136261;
    $h = (($h ^ $_) * 16777619) & 0xffffffff for unpack 'C*', $_[0];
    for my $factor (0x7feb352d, 0x2c1b3c6d) {
        $h = (($h ^ ($h >> 16)) * $factor) & 0xffffffff;
    }
    return $h ^ ($h >> 15);
}

sub squeezed { return $_[0] =~ s/\s+/ /gr =~ s/^ | $//gr }

# The lines a mutant touches, as they are and as it leaves them.
sub whole_lines {
    my ($site, $text) = @_;
    my $start = rindex($text, "\n", $site->{at} - 1) + 1;
    my $end = index $text, "\n", $site->{at} + $site->{length} - ($site->{from} =~ /\n$/ ? 1 : 0);
    my $was = substr $text, $start, $end - $start;
    my $is = $was;
    substr($is, $site->{at} - $start, $site->{length}) = $site->{to} if $site->{from} !~ /\n$/;
    return (squeezed($was), $site->{from} =~ /\n$/ ? '' : squeezed($is));
}

# Every mutant, in the order of the seed.
sub all_sites {
    my @files = Room::files_in('.', qr{\.(?:[ch]|ttl)$}, qw(common-dsp plugins ttl));
    my %text = map { $_ => Room::read_file($_) } @files;
    my (%whole, @sites, %times);
    %whole = (%whole, Sites::whole_names($text{$_})) for grep { !/\.ttl$/ } @files;
    for my $file (@files) {
        for my $site (Sites::of_file($file, $text{$file}, \%whole)) {
            @$site{qw(was is)} = whole_lines($site, $text{$file});
            my $same = "$file|$site->{was}|$site->{is}|$site->{from}|$site->{to}";
            $site->{place} = number_of("$seed|$same|" . $times{$same}++);
            push @sites, $site;
        }
    }
    return sort { $a->{place} <=> $b->{place} || $a->{file} cmp $b->{file} || $a->{at} <=> $b->{at} } @sites;
}

sub name_of {
    my ($site) = @_;
    my ($from, $to) = map { squeezed($_) } @$site{qw(from to)};
    return "$site->{file}:$site->{line}: $from -> " . (length $to ? $to : 'nothing');
}

# The order in which mutants are tried: the three parts take turns.
sub drawn {
    my (%queue, @order);
    push @{$queue{(split m{/}, $_->{file})[0]}}, $_ for grep { name_of($_) =~ /(?:$only)/ } all_sites();
    for (my $turn = 0; grep { @$_ } values %queue; ++$turn) {
        my $site = shift @{$queue{$TURN[$turn % @TURN]} // []};
        push @order, $site if $site;
    }
    return @order;
}

# ---- Mutants that change nothing ----

# {file | was | is} = reason
sub equivalent {
    my %reason;
    for (grep { !/^\s*(?:#|$)/ } split /\n/, Room::read_file('tests/equivalent.txt')) {
        my ($file, $was, $is, $reason) = map { squeezed($_) } split / \| /, $_, 4;
        die "tests/equivalent.txt: not four fields: $_\n" unless length($reason // '');
        die "tests/equivalent.txt: $file does not hold: $was\n" if index(squeezed(Room::read_file($file)), $was) < 0;
        $reason{"$file | $was | $is"} = $reason;
    }
    return %reason;
}

# ---- One mutant ----

sub apply {
    my ($tree, $site) = @_;
    my $text = Room::read_file("$tree/$site->{file}");
    substr($text, $site->{at}, $site->{length}) = $site->{to};
    Room::write_file("$tree/$site->{file}", $text);
}

# What of a plug-in is different from the tree as it is.
sub differing {
    my ($tree) = @_;
    my $made = qr{^obj/(?:common-dsp|plugins)/.*\.o$|^linctus\.lv2/};
    return grep { Room::differ("$Room::room/clean/out/$_", "$tree/out/$_") }
        Room::files_in("$Room::room/clean/out", $made, 'obj/common-dsp', 'obj/plugins', 'linctus.lv2');
}

# The plug-ins that are: all of them where a file is that is everybody's.
sub changed_plugins {
    my (@differing) = @_;
    my @files = grep { m{^linctus\.lv2/} } @differing;
    my %all = map { m{/(\w+)\.so$} ? ($1 => 1) : () } glob "$Room::room/clean/out/linctus.lv2/*.so";
    my %changed = map { m{/(\w+?)(?:-stereo)?\.\w+$} && $all{$1} ? ($1 => 1) : (%all) } @files;
    return sort keys %changed;
}

# "noticed WHO", why it does not count, or "open PLUGIN...": it lives so far, and those are what it has changed.
sub verdict_of {
    my ($tree, $site) = @_;
    Room::fresh_copy('clean', $tree);
    apply($tree, $site);
    if (!Room::make($tree, "$tree/make.log", \@Trial::OPTIONS, 'out/libcommon-dsp.a', 'bundle')) {
        return Trial::is_turtle($site) ? 'noticed the build' : 'does not compile';
    }
    my @differing = differing($tree) or return 'same code';
    my @changed = changed_plugins(@differing);
    my $who = Trial::first_failing($tree, \@Trial::OPTIONS, grep { $_->{cost} <= $QUICK } Trial::of_mutant($site, @changed));
    return $who ? "noticed $who" : "open @changed";
}

# One trial more of a mutant that lived so far.
sub verdict_of_more {
    my ($tree, $site, $trial) = @_;
    my ($where, $options) = ($tree, \@Trial::OPTIONS);
    if ($trial->{sanitized}) {
        $where = "$tree-sanitized";
        $options = \@Trial::SANITIZED;
        Room::locked('sanitized', sub {
            Room::refresh("$Room::room/clean", 'sanitized', $jobs, $options, 'out/libcommon-dsp.a');
        });
        Trial::baseline($trial);
        Room::locked('sanitized', sub {
            return if -e $where;
            Room::fresh_copy('sanitized', $where);
            apply($where, $site);
        });
    }
    my $who = Trial::first_failing($where, $options, $trial);
    return $who ? "noticed $who" : 'open';
}

# ---- The sample ----

# Does something in a process of its own; what it finds stands in a file of that process.
sub start {
    my ($do) = @_;
    my $child = fork // die "fork: $!\n";
    return $workers{$child} = $child if $child;
    %workers = ();
    my $verdict = eval { $do->() } // "error $@";
    Room::write_file("$Room::room/verdict-$$", squeezed($verdict));
    exit 0;
}

# The next process that is done, and what it found.
sub wait_for_one {
    my $child = waitpid -1, 0;
    delete $workers{$child};
    my $file = "$Room::room/verdict-$child";
    my $verdict = -e $file ? Room::read_file($file) : 'error a process ended without a verdict';
    unlink $file;
    return ($child, $verdict);
}

# Tries mutants with what is quick until as many as wanted have a verdict or live so far. What is tried depends on
# verdicts alone: {site, number, verdict}, in the order drawn.
sub try_sample {
    my (@order) = @_;
    my (%running, @tried);
    my ($counted, @slots) = (0, 1 .. $jobs);
    while (1) {
        while (@slots && @tried < @order && $counted + keys(%running) < $wanted) {
            my $one = {site => $order[@tried], number => scalar @tried, slot => shift @slots};
            push @tried, $one;
            $running{start(sub { verdict_of("$Room::room/tree-$one->{slot}", $one->{site}) })} = $one;
        }
        last unless %running;
        my ($child, $verdict) = wait_for_one();
        my $one = delete $running{$child} or next;
        $one->{verdict} = $verdict;
        push @slots, $one->{slot};
        ++$counted if $verdict =~ /^(?:noticed|open|error)/;
        keep($one) if $verdict =~ /^open/;
        show($one) if $verdict !~ /^open/;
    }
    return @tried;
}

# The tree of a mutant that lives so far, for what comes then.
sub tree_of { return "$Room::room/living-$_[0]{number}" }

sub keep {
    my ($one) = @_;
    rename "$Room::room/tree-$one->{slot}", tree_of($one) or die tree_of($one), ": $!\n";
}

# Tries mutants that live so far with all the rest, the cheapest trial first, whosesoever it is. Those known to change
# nothing have met enough.
sub try_living {
    my ($known, @living) = @_;
    for my $one (@living) {
        my @changed = split / /, $one->{verdict} =~ s/^open ?//r;
        $one->{left} = [grep { $_->{cost} > $QUICK } Trial::of_mutant($one->{site}, @changed)];
        $one->{known} = $known->($one->{site});
        $one->{left} = [] if $one->{known};
        $one->{running} = 0;
        settle($one, 'open', {});
    }
    my %running;
    while (1) {
        while (keys %running < $jobs && (my $one = next_to_try(@living))) {
            my $trial = shift @{$one->{left}};
            ++$one->{running};
            $running{start(sub { verdict_of_more(tree_of($one), $one->{site}, $trial) })} = $one;
        }
        last unless %running;
        my ($child, $verdict) = wait_for_one();
        my $one = delete $running{$child} or next;
        --$one->{running};
        settle($one, $verdict, \%running);
    }
}

sub next_to_try {
    my ($first) = sort { $a->{left}[0]{cost} <=> $b->{left}[0]{cost} || $a->{number} <=> $b->{number} }
        grep { @{$_->{left}} } @_;
    return $first;
}

# Once a mutant is noticed nothing more is tried on it.
sub settle {
    my ($one, $verdict, $running) = @_;
    return if $one->{verdict} !~ /^open/;
    return if $verdict eq 'open' && (@{$one->{left}} || $one->{running});
    $one->{verdict} = $verdict eq 'open' ? 'lived' : $verdict;
    $one->{left} = [];
    for my $child (grep { $running->{$_} == $one } keys %$running) {
        kill 'TERM', $child;
    }
    show($one);
}

sub show {
    my ($one) = @_;
    my ($word, $who) = $one->{verdict} =~ /^(noticed|lived|error)\s?(.*)$/ or return;
    $word = 'same' if $one->{known};
    printf "%-7s | %s | %s\n", $word, name_of($one->{site}), $who || '-';
}

# Every program there is a source for has to be there; their hashes are worked out once, before there are workers.
sub check_programs {
    for my $program (Cover::programs("$Room::room/clean")) {
        my @trees = ('clean', Cover::is_of_library($program) ? 'counted' : ());
        -x "$Room::room/$_/out/$program" or die "$program was not built in $Room::room/$_\n" for @trees;
        Room::key_of($program);
    }
    for my $command ($Trial::CONTROLS, $Trial::VALIDATORS) {
        my ($status) = Room::run("$Room::room/clean", $command, 120, "$Room::room/command.log");
        die "$command fails on the tree as it is\n" if $status;
    }
}

# What was kept of other sources is no use any more.
sub drop_stale {
    my $key = Room::hash_of('clean', '');
    unlink grep { index($_, $key) < 0 } glob "$Room::room/map/* $Room::room/baseline/*";
}

# Which lines the quick programs of the library reach. Those that `make check` took long for are not tried.
sub map_programs {
    my @programs = grep { Cover::is_of_library($_) } Cover::programs("$Room::room/clean");
    Trial::took_long($_, $QUICK) and Cover::note_long($_) for @programs;
    Room::in_parallel($jobs, \&Cover::measure, @programs);
}

sub reason_of {
    my ($reason, $site) = @_;
    return $reason->{"$site->{file} | $site->{was} | $site->{is}"};
}

sub judge {
    my ($reason, @tried) = @_;
    my (%sum, @lived);
    for (@tried) {
        my ($site, $verdict) = @$_{qw(site verdict)};
        my $known = reason_of($reason, $site);
        my $word = $verdict =~ /^(noticed|lived|error)/ ? $1 : 'void';
        print "in tests/equivalent.txt, but noticed: ", name_of($site), "\n" if $known && $word eq 'noticed';
        $word = 'stale' if $known && $word eq 'noticed';
        $word = 'equivalent' if $known && $word eq 'lived';
        ++$sum{$word};
        push @lived, $site if $word eq 'lived';
    }
    print "lived: ", name_of($_), "\n    $_->{was}\n    $_->{is}\n" for @lived;
    my ($noticed, $lived, $same, $wrong) = map { $sum{$_} // 0 } qw(noticed lived equivalent error);
    my $all = $noticed + $lived + $same + ($sum{stale} // 0);
    printf "seed %s: %d mutants, %d noticed, %d equivalent, %d lived (%.1f %%), %d errors; %d drawn again; %s\n", $seed,
        $all, $noticed, $same, $lived, $all ? 100 * $lived / $all : 0, $wrong, $sum{void} // 0, so_far();
    return $all && !$wrong && !$sum{stale} && $lived <= $LIVE_MOST * $all;
}

sub so_far { return sprintf '%d s, %d s of CPU time', time - $started, Room::spent() }

my %reason = equivalent();
my @order = drawn();
die "no mutant matches $only\n" unless @order;
print "$wanted mutants of ", scalar @order, ", seed $seed\n";
Room::remove($_) for glob "$Room::room/tree-* $Room::room/living-*";
unlink "$Room::room/trials.log";
Room::refresh('.', 'clean', $jobs, \@Trial::OPTIONS, 'tests');
Room::refresh("$Room::room/clean", 'counted', $jobs, \@COUNTED, 'unit-tests');
Trial::take_up($build);
check_programs();
drop_stale();
map_programs();
print 'ready after ', so_far(), "\n";
my @tried = try_sample(@order);
print 'tried with what is quick after ', so_far(), "\n";
try_living(sub { reason_of(\%reason, $_[0]) }, grep { $_->{verdict} =~ /^open/ } @tried);
exit(judge(\%reason, @tried) ? 0 : 1);
