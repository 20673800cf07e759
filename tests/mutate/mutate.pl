# Breaks the code and the descriptors, one place at a time, and sees whether the tests notice: `make mutate`
#
# Every mutant that Sites.pm can make of common-dsp, plugins and ttl has a place in the order that a seed gives, which
# depends on its own line alone: a change elsewhere leaves the draw as it is. Of ten drawn, seven are of common-dsp, one
# of plugins, two of ttl. One that does not compile, or compiles to the same code, is drawn again and does not count.
#
# A mutant is applied to a copy of the tree and run against the programs that reach its line (Cover.pm), the quickest
# first, until one fails: then it was noticed. Programs of the library come before those of the bundle; in between, the
# quick ones of the library are run once more under the sanitizers. Out of CPU time counts as failing: the limit is ten
# seconds and four times what the program takes on the tree as it is, with counters. A mutant of ttl is run against
# the list of controls, every program of tests/plugins, and the validators. A program that is missing, or fails on the tree
# as it is, is an error.
#
# tests/equivalent.txt names mutants that change nothing that matters, with the reason: they are run and counted apart.
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

my $LIVE_MOST = 0.05;
my @TURN = qw(common-dsp common-dsp ttl common-dsp common-dsp plugins common-dsp common-dsp ttl common-dsp);
my @OPTIONS = ('OPT=-O2', 'SAME_PATHS='); # no path in a flag: a copy of the tree is no other build
my @COUNTED = ('OPT=-O2 -g --coverage -DCOUNTED', 'SAME_PATHS=');

my @SANITIZED = ('OPT=-O1 -g -fsanitize=address,undefined -fno-sanitize-recover=all', 'SAME_PATHS=');
my ($CONTROLS, $VALIDATORS) = ('tests/controls.sh check', 'tests/validate.sh out/linctus.lv2'); # of Turtle
my $SANITIZED_MOST = 4; # s of CPU time without them

my $wanted = $ENV{N} || 60;
my $seed = length($ENV{SEED} // '') ? $ENV{SEED} : int rand 1_000_000;
my $jobs = $ENV{JOBS} || 2;
my $only = $ENV{ONLY} // '';
$Room::room = ($ENV{BUILD} || 'build') . '/mutate';
delete @ENV{qw(MAKEFLAGS MFLAGS MAKELEVEL MAKEOVERRIDES N SEED ONLY BUILD)}; # the copies' make is none of this one's
my $started = time . "-$$"; # names what is done once a run
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

# Whether everything that goes into a plug-in is as it was.
sub same_code {
    my ($tree) = @_;
    my $made = qr{^obj/(?:common-dsp|plugins)/.*\.o$|^linctus\.lv2/.*\.ttl$};
    my @made = Room::files_in("$Room::room/clean/out", $made);
    system('cmp', '-s', "$Room::room/clean/out/$_", "$tree/out/$_") and return 0 for @made;
    return 1;
}

# Those of the programs that may reach the mutant, quickest first; of those that take long, the module's own.
sub in_order {
    my ($site, @programs) = @_;
    my $own = 'test_' . ($site->{file} =~ m{(\w+)\.\w+$} ? $1 : '');
    my @able = grep { Cover::holds($_, $site->{file}) } @programs;
    Cover::ensure($_, 1) for @able;
    my %cost = map { $_ => Cover::seconds($_) // (m{/\Q$own\E$} ? 4 : 5) } @able;
    return sort { $cost{$a} <=> $cost{$b} || $a cmp $b } @able;
}

sub build_program {
    my ($tree, $program, $options) = @_;
    my $log = "$tree/make.log";
    Room::make($tree, $log, $options, "out/$program") or die "$program cannot be built: see $log\n";
}

sub fails {
    my ($tree, $program) = @_;
    build_program($tree, $program, \@OPTIONS);
    my ($status) = Room::run($tree, "out/$program", 10 + 4 * Cover::seconds($program), "$tree/run.log");
    return $status != 0;
}

sub command_fails {
    my ($tree, $command) = @_;
    my ($status) = Room::run($tree, $command, 120, "$tree/run.log");
    return $status != 0;
}

# The first program that fails, of those that reach the mutant; nothing where none does.
sub failing_one {
    my ($tree, $site, @programs) = @_;
    for my $program (in_order($site, @programs)) {
        Cover::ensure($program, 0);
        return $program if Cover::covers($program, $site) && fails($tree, $program);
    }
    return;
}

# What no figure shows, memory never given back or read past its end, the sanitizers may: the library's programs that
# take no more than a few seconds are run under them, as `make sanitize` does, in a tree beside the mutant's.
sub failing_under_sanitizers {
    my ($site, @programs) = @_;
    my @quick = grep { Cover::seconds($_) < $SANITIZED_MOST && Cover::covers($_, $site) } in_order($site, @programs);
    return unless @quick;
    prepare_sanitized(@quick);
    my $tree = "$Room::room/sanitized-tree-$$";
    Room::locked('sanitized', sub { Room::fresh_copy('sanitized', $tree) });
    apply($tree, $site);
    for my $program (@quick) {
        build_program($tree, $program, \@SANITIZED);
        my ($status) = Room::run($tree, "out/$program", 60 + 20 * Cover::seconds($program), "$tree/run.log", 1);
        next unless $status;
        Room::remove($tree);
        return "$program under the sanitizers";
    }
    Room::remove($tree);
    return;
}

# Builds programs with sanitizers, and sees that they pass on the tree as it is; once a run.
sub prepare_sanitized {
    my (@programs) = @_;
    Room::once("once-$started-library", sub {
        Room::refresh("$Room::room/clean", 'sanitized', $jobs, \@SANITIZED, 'out/libcommon-dsp.a');
    });
    for my $program (@programs) {
        my $name = $program =~ s{/}{-}gr;
        Room::once("once-$started-$name", sub {
            my $log = "$Room::room/once-$started-$name.log";
            Room::locked('sanitized', sub { build_program("$Room::room/sanitized", $program, \@SANITIZED) });
            my ($status) = Room::run("$Room::room/sanitized", "out/$program", 600, $log, 1);
            die "$program fails under the sanitizers on the tree as it is: see $log\n" if $status;
        });
    }
}

# Who notices; nothing when it lives.
sub noticed_by {
    my ($tree, $site) = @_;
    my $turtle = $site->{file} =~ /\.ttl$/;
    return 'the list of controls' if $turtle && command_fails($tree, $CONTROLS);
    my @programs = Cover::programs("$Room::room/clean");
    my @of_library = $site->{file} =~ /^common-dsp/ ? grep { !m{/plugins/} } @programs : ();
    my @of_turtle = $turtle ? grep { m{/test_descriptors$} } @programs : ();
    my $who = failing_one($tree, $site, @of_turtle) // failing_one($tree, $site, @of_library) // failing_under_sanitizers($site, @of_library)
        // failing_one($tree, $site, grep { m{/plugins/} } @programs);
    return $who if $who;
    return 'the validators' if $turtle && command_fails($tree, $VALIDATORS);
    return;
}

# "noticed WHO", "lived", or why it does not count.
sub verdict_of {
    my ($tree, $site) = @_;
    Room::fresh_copy('clean', $tree);
    apply($tree, $site);
    if (!Room::make($tree, "$tree/make.log", \@OPTIONS, 'out/libcommon-dsp.a', 'bundle')) {
        return $site->{file} =~ /\.ttl$/ ? 'noticed the build' : 'does not compile';
    }
    return 'same code' if same_code($tree);
    my $who = noticed_by($tree, $site);
    return $who ? "noticed $who" : 'lived';
}

# ---- The sample ----

# In a process of its own; what it finds stands in a file.
sub start_one {
    my ($slot, $number, $site) = @_;
    my $child = fork // die "fork: $!\n";
    return $child if $child;
    my $verdict = eval { verdict_of("$Room::room/tree-$slot", $site) } // "error $@";
    Room::write_file("$Room::room/verdict-$number", squeezed($verdict));
    exit 0;
}

# Tries mutants until as many as wanted have a verdict, some at once. What is tried depends on verdicts alone.
sub try_sample {
    my (@order) = @_;
    my (%running, @verdict, $next, $counted, $shown) = ();
    my @slots = 1 .. $jobs;
    ($next, $counted, $shown) = (0, 0, 0);
    while (1) {
        while (@slots && $next < @order && $counted + keys(%running) < $wanted) {
            my $slot = shift @slots;
            $running{start_one($slot, $next, $order[$next])} = [$slot, $next];
            ++$next;
        }
        last unless %running;
        my ($slot, $number) = @{delete $running{waitpid -1, 0} // next};
        push @slots, $slot;
        $verdict[$number] = Room::read_file("$Room::room/verdict-$number");
        unlink "$Room::room/verdict-$number";
        ++$counted if $verdict[$number] =~ /^(?:noticed|lived|error)/;
        show($order[$shown], $verdict[$shown++]) while $shown < $next && defined $verdict[$shown];
    }
    return map { [$order[$_], $verdict[$_]] } 0 .. $#verdict;
}

sub show {
    my ($site, $verdict) = @_;
    my ($word) = $verdict =~ /^(noticed|lived|error .*)/ or return;
    printf "%-7s | %s\n", $word, name_of($site);
}

# Every program there is a source for has to be there; their hashes are worked out once, before there are workers.
sub check_programs {
    for my $program (Cover::programs("$Room::room/clean")) {
        -x "$Room::room/$_/out/$program" or die "$program was not built in $Room::room/$_\n" for qw(clean counted);
        Cover::file_of($program);
    }
    for my $command ($CONTROLS, $VALIDATORS) {
        die "$command fails on the tree as it is\n" if command_fails("$Room::room/clean", $command);
    }
}

sub judge {
    my ($reason, @tried) = @_;
    my (%sum, @lived);
    for (@tried) {
        my ($site, $verdict) = @$_;
        my $known = $reason->{"$site->{file} | $site->{was} | $site->{is}"};
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
    printf "seed %s: %d mutants, %d noticed, %d equivalent, %d lived (%.1f %%), %d errors; %d drawn again\n", $seed, $all,
        $noticed, $same, $lived, $all ? 100 * $lived / $all : 0, $wrong, $sum{void} // 0;
    return $all && !$wrong && !$sum{stale} && $lived <= $LIVE_MOST * $all;
}

my %reason = equivalent();
my @order = drawn();
die "no mutant matches $only\n" unless @order;
print "$wanted mutants of ", scalar @order, ", seed $seed\n";
Room::refresh('.', 'clean', $jobs, \@OPTIONS, 'tests');
Room::refresh("$Room::room/clean", 'counted', $jobs, \@COUNTED, 'tests');
check_programs();
unlink glob "$Room::room/once-*";
Room::remove($_) for glob "$Room::room/sanitized-tree-*";
exit(judge(\%reason, try_sample(@order)) ? 0 : 1);
