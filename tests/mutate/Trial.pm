# What a mutant is tried with: test programs that may notice it, the cheapest first. A trial is a program, or one of the
# bundle on one plug-in alone, or a command that judges descriptors, or a program built with sanitizers.
#
# Nothing counts as noticing what fails on the tree as it is: before a failure is believed, the same trial has passed
# there, once for the same sources. What the last `make check` found on them is taken from it.
package Trial;
use strict;
use warnings;
use Fcntl qw(:flock);
use File::Basename qw(basename dirname);
use File::Path qw(make_path);
use Cover;
use Room;

our @OPTIONS = ('OPT=-O2', 'SAME_PATHS=');    # no path in a flag: a copy of the tree is no other build
our @SANITIZED = ('OPT=-O1 -g -fsanitize=address,undefined -fno-sanitize-recover=all', 'SAME_PATHS=');
our ($CONTROLS, $VALIDATORS) = ('tests/controls.sh check', 'tests/validate.sh out/linctus.lv2');

my $UNKNOWN = 10;         # s: a program that nothing is known of
my $OWN = 0.25;           # a module's own test is worth waiting for
my $UNLIKELY = 5;         # one of how render treats files is not
my $FEW = 2;              # plug-ins that are tried one by one
my $SANITIZED_MOST = 1;   # s of CPU time without them
my $LAST = 1000;          # s: what comes after everything else
my (%checked, %times, %source);

# ---- What programs cost ----

# Takes up what `make check` left in a build folder: the times, as an estimate; where it passed on these very sources
# with the same compiler and flags, as a result too.
sub take_up {
    my ($build) = @_;
    return unless -e "$build/check-times.txt";
    for (split /\n/, Room::read_file("$build/check-times.txt")) {
        $times{$2} = $1 if m{^([\d.]+) .*?(tests/(?:unit|published|plugins)/\w+)$};
    }
    return unless -e "$build/check-passed";
    my ($sources, $flags) = split /\n/, Room::read_file("$build/check-passed");
    chomp(my $now = `tests/sources.sh`);
    my $ours = Room::read_file("$Room::room/clean/out/stamps/compile");
    %checked = %times if $sources eq $now && plain($flags) eq plain($ours);
}

# Flags without those that change no code.
sub plain { return $_[0] =~ s/-ffile-prefix-map=\S+|-g(?= )//gr =~ s/\s+/ /gr =~ s/ $//r }

sub estimate {
    my ($program) = @_;
    my $counted = Cover::is_of_library($program) ? Cover::seconds($program) : undef;
    return $times{$program} // (defined $counted ? $counted / 2 : $UNKNOWN);
}

sub took_long { return defined $times{$_[0]} && $times{$_[0]} > $_[1] }

# ---- The trials of a mutant ----

# A mutant is known by its file and line and by the plug-ins of which something has become different.
sub of_mutant {
    my ($site, @changed) = @_;
    my @programs = Cover::programs("$Room::room/clean");
    my @others = grep { !Cover::is_of_library($_) && (opens_bundle($_) || knows($_, $site)) } @programs;
    my @trials = map { of_bundle($_, @changed) } @others;
    push @trials, map { {command => $_, cost => estimate_of_command($_)} } $CONTROLS, $VALIDATORS if is_turtle($site);
    if ($site->{file} =~ /^common-dsp/) {
        my @able = grep { Cover::is_of_library($_) && Cover::covers($_, $site) } @programs;
        push @trials, map { {program => $_, cost => estimate($_)} } @able;
        push @trials, map { {program => $_, cost => $LAST + estimate($_), sanitized => 1} }
            grep { estimate($_) < $SANITIZED_MOST } @able;
    }
    for my $trial (grep { $_->{program} && !$_->{sanitized} } @trials) {
        $trial->{cost} *= is_own($site, $trial) ? $OWN : about_files($trial->{program}) ? $UNLIKELY : 1;
    }
    return sort { $a->{cost} <=> $b->{cost} || name_of($a) cmp name_of($b) } @trials;
}

sub is_turtle { return $_[0]{file} =~ /\.ttl$/ }

sub estimate_of_command { return $_[0] eq $CONTROLS ? 0 : 3 }

# Programs that make a test of each property and plug-in, and have no other tests, are asked about the plug-ins concerned. Where those are many,
# about one first, as most that is wrong with all is wrong with it.
sub of_bundle {
    my ($program, @changed) = @_;
    my $whole = {program => $program, cost => estimate($program)};
    return $whole unless @changed && loops_over_plugins($program);
    my @one = @changed <= $FEW ? @changed : $changed[0];
    my $plugins = () = glob "$Room::room/clean/out/linctus.lv2/*.so";
    my @alone = map { {program => $program, only => "urn:linctus:$_", cost => $whole->{cost} / ($plugins || 1)} } @one;
    return @changed <= $FEW ? @alone : (@alone, $whole);
}

sub loops_over_plugins { return source_of($_[0]) =~ /\bevery_run\(/ && source_of($_[0]) !~ /\bcmocka_run_group_tests\(/ }

sub opens_bundle { return source_of($_[0]) =~ /\bevery_run\(|LINCTUS_BUILD|linctus\.lv2/ }

sub about_files { return source_of($_[0]) =~ m{include "(?:runs\.h|fuzz/broken\.h)"} }

sub source_of { return $source{$_[0]} //= Room::read_file("$Room::room/clean/$_[0].c") }

# Whether a program includes the header of the file that was changed, as the compiler noted.
sub knows {
    my ($program, $site) = @_;
    my $header = $site->{file} =~ s/\.c$/.h/r;
    return Room::read_file("$Room::room/clean/out/obj/$program.d") =~ /\b\Q$header\E\b/;
}

# test_esses, test_esses_memory and the like are tests of esses.c, and test_esses one of esses_band.c.
sub is_own {
    my ($site, $trial) = @_;
    my ($module) = $site->{file} =~ m{(\w+)\.\w+$} or return 0;
    my ($tested) = $trial->{program} =~ m{/test_(\w+)$} or return 0;
    return index("${module}_", "${tested}_") == 0 || index("${tested}_", "${module}_") == 0;
}

sub name_of {
    my ($trial) = @_;
    return $trial->{command} if $trial->{command};
    return $trial->{program} . ($trial->{only} ? " on $trial->{only}" : '')
        . ($trial->{sanitized} ? ' under the sanitizers' : '');
}

# ---- On the tree as it is ----

sub home_of { return "$Room::room/" . ($_[0]{sanitized} ? 'sanitized' : 'clean') }

# The CPU seconds that a trial takes there, where it passes; undef when it has nothing to try. Fails where it fails.
sub baseline {
    my ($trial) = @_;
    my ($program, $only) = ($trial->{program}, $trial->{only} // '');
    return $checked{$program} if defined $checked{$program} && !$only && !$trial->{sanitized};
    my $name = basename($program) . ($only =~ s/\W/-/gr) . ($trial->{sanitized} ? '-sanitized' : '');
    my $path = "baseline/$name-" . Room::key_of($program);
    my $seconds = Room::locked($path, sub {
        Room::write_file("$Room::room/$path", tried($trial, "$Room::room/$path.log")) unless -e "$Room::room/$path";
        return Room::read_file("$Room::room/$path");
    });
    return length $seconds ? $seconds : undef;
}

sub tried {
    my ($trial, $log) = @_;
    prepare_sanitized($trial->{program}) if $trial->{sanitized};
    my ($status, $seconds) = Room::run(home_of($trial), "out/$trial->{program}", 3600, $log, %$trial);
    return $seconds unless $status;
    return '' if $trial->{only} && Room::read_file($log) =~ /: none of \d+ tests has /;
    die name_of($trial), " fails on the tree as it is: see $log\n";
}

sub prepare_sanitized {
    my ($program) = @_;
    Room::locked('sanitized', sub {
        build_in("$Room::room/sanitized", \@SANITIZED, $program) or die "$program cannot be built with sanitizers\n";
    });
}

# ---- On the mutant ----

# Whether a trial fails in a tree, and not in the tree as it is.
sub fails {
    my ($tree, $trial) = @_;
    my $log = "$tree/run-$$.log";
    if ($trial->{command}) {
        my ($status) = Room::run($tree, $trial->{command}, 120, $log);
        return $status != 0;
    }
    my $limit = limit_of($trial, expected($trial) // return 0);
    my ($status) = Room::run($tree, "out/$trial->{program}", $limit, $log, %$trial);
    return 0 unless $status;
    my $right = limit_of($trial, baseline($trial) // return 0);
    return 1 if !Room::out_of_time($status) || $limit >= $right;
    ($status) = Room::run($tree, "out/$trial->{program}", $right, $log, %$trial);
    return $status != 0;
}

sub limit_of {
    my ($trial, $seconds) = @_;
    return $trial->{sanitized} ? 60 + 10 * $seconds : 10 + 4 * $seconds;
}

# CPU seconds that will do until a program is seen to fail: what an earlier run or its like took. Else it is run on the
# tree as it is first.
sub expected {
    my ($trial) = @_;
    return baseline($trial) if $trial->{sanitized};
    my $counted = Cover::is_of_library($trial->{program}) ? Cover::seconds($trial->{program}) : undef;
    return $times{$trial->{program}} // $counted // baseline($trial);
}

# Builds programs in a tree, one process at a time; false where that does not work.
sub build_in {
    my ($tree, $options, @programs) = @_;
    return 1 unless @programs;
    open my $lock, '>', "$tree/build.lock" or die "$tree/build.lock: $!\n";
    flock $lock, LOCK_EX;
    return Room::make($tree, "$tree/make.log", $options, map { "out/$_" } @programs);
}

# The name of the first of some trials that fails; nothing where none does. Programs are built some at once, ever more.
# One that was built for the tree as it is and cannot be built for the mutant has failed.
sub first_failing {
    my ($tree, $options, @trials) = @_;
    for (my $some = 1; @trials; $some *= 2) {
        my @now = splice @trials, 0, $some;
        my %programs = map { $_->{program} => 1 } grep { $_->{program} } @now;
        build_in($tree, $options, sort keys %programs) or return 'the build of the tests';
        for my $trial (@now) {
            my $before = Room::spent();
            my $failed = fails($tree, $trial);
            note($trial, Room::spent() - $before, $failed);
            return name_of($trial) if $failed;
        }
    }
    return;
}

# What each trial took, for whoever wants to know where the time goes.
sub note {
    my ($trial, $seconds, $failed) = @_;
    open my $log, '>>', "$Room::room/trials.log" or die "trials.log: $!\n";
    printf $log "%.2f %s%s\n", $seconds, name_of($trial), $failed ? ' failed' : '';
    close $log;
}

1;
