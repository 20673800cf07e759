# The copies of the tree that mutants live and die in, under the build folder, and what runs there.
package Room;
use strict;
use warnings;
use Cwd qw(abs_path);
use File::Basename qw(dirname);
use Fcntl qw(:flock);
use File::Path qw(make_path remove_tree);

our $room;         # where it all is
our $look = 30;    # s from one look at a program that runs to the next

my @PARTS = qw(Makefile README.md common-dsp plugins ttl presets tests);
my $MEMORY = 8_000_000;    # KiB
my %hash;

# ---- Files ----

sub read_file {
    my ($path) = @_;
    open my $file, '<', $path or die "$path: $!\n";
    local $/;
    return scalar <$file> // '';
}

sub write_file {
    my ($path, $text) = @_;
    open my $file, '>', $path or die "$path: $!\n";
    print $file $text;
    close $file or die "$path: $!\n";
}

sub differ {
    my ($one, $other) = @_;
    return !-e $one || !-e $other || -s $one != -s $other || read_file($one) ne read_file($other);
}

sub full { return abs_path($_[0]) }

# Paths below a folder, sorted.
sub files_in {
    my ($folder, $wanted, @parts) = @_;
    open my $find, '-|', 'find', (@parts ? map { "$folder/$_" } @parts : $folder), '-type', 'f' or die "find: $!\n";
    my @found = grep { !$wanted || $_ =~ $wanted } map { chomp; s{^\Q$folder\E/}{}r } <$find>;
    return sort @found;
}

# Of one file of a tree or, without a name, of all that every test program is made of.
sub hash_of {
    my ($tree, $file) = @_;
    return $hash{$tree, $file} //= do {
        my @all = length $file ? $file : files_in("$room/$tree", undef, @PARTS);
        my @part = grep { length $file || !m{/test_\w+\.c$|\.md$|^tests/mutate/|equivalent} } @all;
        my $words = join ' ', map { "'$_'" } @part;
        open my $sum, '-|', "cd '$room/$tree' && cat $words | sha256sum" or die "sha256sum: $!\n";
        substr(<$sum>, 0, 16);
    };
}

# What a test program is made of: the same key, the same outcome.
sub key_of {
    my ($program) = @_;
    return hash_of('clean', "$program.c") . '-' . hash_of('clean', '');
}

# ---- Trees ----

# Makes a copy what another tree is now, leaving alone what has not changed, and builds it.
sub refresh {
    my ($from, $name, $jobs, $options, @targets) = @_;
    my $tree = "$room/$name";
    make_path($tree);
    my %wanted = map { $_ => 1 } files_in($from, undef, @PARTS);
    for my $file (sort keys %wanted) {
        copy("$from/$file", "$tree/$file") if differ("$from/$file", "$tree/$file");
    }
    $wanted{$_} or unlink "$tree/$_" for files_in($tree, undef, grep { -e "$tree/$_" } @PARTS);
    share_voices($tree);
    make($tree, "$room/$name.log", $options, "-j$jobs", @targets)
        or die "the tree itself does not build: see $room/$name.log\n";
}

# Does something while no other worker does anything under this name.
sub locked {
    my ($name, $do) = @_;
    make_path(dirname "$room/$name");
    open my $lock, '>', "$room/$name.lock" or die "$room/$name.lock: $!\n";
    flock $lock, LOCK_EX;
    return $do->();
}

sub copy {
    my ($from, $to) = @_;
    make_path(dirname $to);
    system('cp', '-p', $from, $to) == 0 or die "cannot copy $from\n";
    utime undef, undef, $to;
}

# Takes that tests make of recordings (tests/voices.h) cost time and depend on nothing that is broken here: all trees
# share those of the build folder.
sub share_voices {
    my ($tree) = @_;
    my $voices = dirname($room) . '/voices';
    make_path($voices, "$tree/out");
    symlink full($voices), "$tree/out/voices" unless -e "$tree/out/voices";
}

sub remove { remove_tree($_[0]) }

# Without the test programs: those that are wanted are linked anew.
sub fresh_copy {
    my ($from, $to) = @_;
    remove_tree($to);
    make_path($to);
    my $copy = "tar -C '$room/$from' --exclude=./out/tests --exclude=./scratch -cf - . | tar -C '$to' -xf -";
    system($copy) == 0 or die "cannot copy $room/$from\n";
}

sub make {
    my ($tree, $log, $options, @targets) = @_;
    my $words = join ' ', map { "'$_'" } 'BUILD=out', @$options, @targets;
    return system("\${MAKE:-make} -C '$tree' $words >'$log' 2>&1") == 0;
}

# ---- Programs ----

# Runs a command in a tree: its exit status and its CPU seconds. It is ended after `limit` of them, or when it stands
# still. Sanitizers reserve addresses without end, so under them memory is not limited.
sub run {
    my ($tree, $command, $limit, $log, %with) = @_;
    my $log_path = full(dirname $log) . '/' . ($log =~ s{.*/}{}r);
    my $before = spent();
    my $child = fork // die "fork: $!\n";
    if (!$child) {
        setpgrp;
        chdir $tree or die "$tree: $!\n";
        mkdir 'scratch';
        @ENV{qw(LINCTUS_BUILD TMPDIR)} = ('out', full('scratch'));
        $ENV{LINCTUS_ONLY} = $with{only} if length($with{only} // '');
        $ENV{LSAN_OPTIONS} = 'suppressions=' . full('tests/lsan.supp') . ':print_suppressions=0';
        $limit = int($limit + 0.999);
        my $memory = $with{sanitized} ? 'unlimited' : $MEMORY;
        my $limits = "ulimit -c 0; ulimit -v $memory; ulimit -t $limit";
        exec 'sh', '-c', "$limits; exec $command >'$log_path' 2>&1 </dev/null" or die "sh: $!\n";
    }
    my $status = wait_for($child);
    return ($status, spent() - $before);
}

# Whether it was the limit that ended it. On a busy machine the kernel's count for that runs ahead of the CPU seconds, by
# a tenth and more: these do not tell. (One that stands still has the status -1.)
sub out_of_time { return $_[0] >= 0 && ($_[0] & 127) =~ /^(?:9|24)$/ }    # SIGKILL, SIGXCPU

sub spent {
    my @times = times;
    return $times[2] + $times[3];
}

# The exit status of a group of processes. One that has used no CPU time from one look to the next hangs: it is ended,
# and that is a failure, as it would be for whoever waits for it.
sub wait_for {
    my ($child) = @_;
    local @SIG{qw(TERM INT)} = (sub { kill 'KILL', -$child; waitpid $child, 0; exit 1 }) x 2;
    my $used = -1;
    while (1) {
        my $status = eval {
            local $SIG{ALRM} = sub { die "late\n" };
            alarm $look;
            waitpid $child, 0;
            my $ended = $?;
            alarm 0;
            $ended;
        };
        return $status if defined $status;
        my $now = ticks($child);
        last if $now == $used;
        $used = $now;
    }
    kill 'KILL', -$child;
    waitpid $child, 0;
    return -1;
}

# What a group of processes has used of the CPU, as Linux counts it.
sub ticks {
    my ($group) = @_;
    my $sum = 0;
    for my $file (glob '/proc/[0-9]*/stat') {
        open my $stat, '<', $file or next;
        my @field = split / /, (<$stat> // '') =~ s/^.*\) //r;
        $sum += $field[11] + $field[12] + $field[13] + $field[14] if @field > 14 && $field[2] == $group;
    }
    return $sum;
}

# Does something for each of a list, some at once, each in a process of its own; an error of one is an error.
sub in_parallel {
    my ($jobs, $do, @items) = @_;
    my ($running, $failed) = (0, 0);
    while (@items || $running) {
        if (@items && $running < $jobs) {
            start_child($do, shift @items);
            ++$running;
            next;
        }
        waitpid -1, 0;
        $failed ||= $?;
        --$running;
    }
    exit 1 if $failed;
}

sub start_child {
    my ($do, $item) = @_;
    my $child = fork // die "fork: $!\n";
    return $child if $child;
    my $done = eval { $do->($item); 1 };
    print STDERR $@ unless $done;
    exit($done ? 0 : 1);
}

1;
