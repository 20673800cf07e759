# The copies of the tree that mutants live and die in, under the build folder, and what runs there.
package Room;
use strict;
use warnings;
use Cwd qw(abs_path);
use File::Basename qw(dirname);
use File::Path qw(make_path remove_tree);

our $room;    # where it all is

my @PARTS = qw(Makefile README.md common-dsp plugins ttl presets tests);
my $MEMORY = 8_000_000;    # KiB
my $WAIT = 3600;           # s: a program that stands still for so long gives no verdict
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
        my @files = length $file ? $file : grep { !m{/test_\w+\.c$} && $_ ne 'README.md' } files_in("$room/$tree", undef, @PARTS);
        open my $sum, '-|', "cd '$room/$tree' && cat " . join(' ', map { "'$_'" } @files) . ' | sha256sum' or die "sha256sum: $!\n";
        substr(<$sum>, 0, 16);
    };
}

# ---- Trees ----

# Makes a copy of the tree what the tree is now, leaving alone what has not changed, and builds it.
sub refresh {
    my ($name, $jobs, $options, @targets) = @_;
    my $tree = "$room/$name";
    make_path($tree);
    my %wanted = map { $_ => 1 } files_in('.', undef, @PARTS);
    -e "$tree/$_" && system('cmp', '-s', $_, "$tree/$_") == 0 or copy($_, "$tree/$_") for sort keys %wanted;
    $wanted{$_} or unlink "$tree/$_" for files_in($tree, undef, grep { -e "$tree/$_" } @PARTS);
    share_voices($tree);
    make($tree, "$room/$name.log", $options, "-j$jobs", @targets) or die "the tree itself does not build: see $room/$name.log\n";
}

sub copy {
    my ($from, $to) = @_;
    make_path(dirname $to);
    system('cp', '-p', $from, $to) == 0 or die "cannot copy $from\n";
    utime undef, undef, $to;
}

# Takes that tests make of recordings (tests/voices.h) cost time and depend on nothing that is broken here: all trees share those
# of the build folder.
sub share_voices {
    my ($tree) = @_;
    my $voices = dirname($room) . '/voices';
    make_path($voices, "$tree/out");
    symlink full($voices), "$tree/out/voices" unless -e "$tree/out/voices";
}

sub fresh_copy {
    my ($from, $to) = @_;
    remove_tree($to);
    system('cp', '-a', "$room/$from", $to) == 0 or die "cannot copy $room/$from\n";
}

sub make {
    my ($tree, $log, $options, @targets) = @_;
    my $words = join ' ', map { "'$_'" } 'BUILD=out', @$options, @targets;
    return system("\${MAKE:-make} -C '$tree' $words >'$log' 2>&1") == 0;
}

# ---- Programs ----

# Runs a command in a tree: its exit status and its CPU seconds. It is ended after `limit` of them.
sub run {
    my ($tree, $command, $limit, $log) = @_;
    my $log_path = full(dirname $log) . '/' . ($log =~ s{.*/}{}r);
    my $before = spent();
    my $child = fork // die "fork: $!\n";
    if (!$child) {
        setpgrp;
        chdir $tree or die "$tree: $!\n";
        mkdir 'scratch';
        @ENV{qw(LINCTUS_BUILD TMPDIR)} = ('out', full('scratch'));
        delete $ENV{LINCTUS_REPORT};
        $limit = int($limit + 0.999);
        exec 'sh', '-c', "ulimit -c 0; ulimit -v $MEMORY; ulimit -t $limit; exec $command >'$log_path' 2>&1 </dev/null" or die "sh: $!\n";
    }
    my $status = wait_for($child);
    return ($status, spent() - $before);
}

sub spent {
    my @times = times;
    return $times[2] + $times[3];
}

sub wait_for {
    my ($child) = @_;
    my $status = eval {
        local $SIG{ALRM} = sub { die "late\n" };
        alarm $WAIT;
        waitpid $child, 0;
        my $ended = $?;
        alarm 0;
        $ended;
    };
    return $status if defined $status;
    kill 'KILL', -$child;
    waitpid $child, 0;
    die "a program stood still for $WAIT s\n";
}

1;
