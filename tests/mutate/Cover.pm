# Which test program of the library reaches which line: each that is quick is run once in a build with gcov's counters, in
# a copy of the tree, and what it reached is kept under a hash of the sources. Of a program that takes long it is only
# known which files are in it.
package Cover;
use strict;
use warnings;
use File::Basename qw(basename dirname);
use File::Path qw(make_path remove_tree);
use Room;

my $MOST = 10;    # s of CPU time with counters: more is long
my (%map, %linked, %source);

# Paths without what comes before them: "tests/unit/test_x".
sub programs {
    my ($tree) = @_;
    my @sources = map { glob "$tree/tests/$_/test_*.c" } qw(unit published plugins);
    return map { s/\.c$//r =~ s{^\Q$tree\E/}{}r } @sources;
}

sub is_of_library { return $_[0] !~ m{^tests/plugins/} }

# ---- The map of a program ----

sub file_of {
    my ($program) = @_;
    make_path("$Room::room/map");
    return "$Room::room/map/" . basename($program) . '-' . Room::key_of($program);
}

# Runs it unless that was done. One that is long leaves an empty map.
sub measure {
    my ($program) = @_;
    my $file = file_of($program);
    return if -e $file;
    my $counters = "$file.counters";
    remove_tree($counters);
    make_path($counters);
    my $home = "$Room::room/counted";
    my $strip = () = Room::full($home) =~ m{/[^/]+}g;
    local $ENV{GCOV_PREFIX} = Room::full($counters);
    local $ENV{GCOV_PREFIX_STRIP} = $strip + 1;    # and "out"
    my ($status, $seconds) = Room::run($home, "out/$program", $MOST, "$file.log");
    if (Room::out_of_time($status)) {
        note_long($program);
    } else {
        die "$program fails on the tree as it is: see $file.log\n" if $status;
        Room::write_file("$file.part", "$seconds\n" . counted_lines($home, $counters));
        rename "$file.part", $file or die "$file: $!\n";
    }
    remove_tree($counters);
}

sub note_long { Room::write_file(file_of($_[0]), "\n") unless -e file_of($_[0]) }

# "file line count" for every line that could be reached, from gcov's listings.
sub counted_lines {
    my ($home, $counters) = @_;
    my (%count, $file);
    my $full = Room::full($counters);
    for my $data (Room::files_in($counters, qr/\.gcda$/)) {
        my $notes = "$home/out/$data" =~ s/gcda$/gcno/r;
        system('cp', $notes, "$counters/" . dirname($data)) == 0 or die "no $notes\n" if -e $notes;
    }
    my @data = grep { m{obj/(?:common-dsp|plugins)/} } Room::files_in($counters, qr/\.gcda$/);
    return '' unless @data;
    my $words = join ' ', map { "'$full/$_'" } @data;
    open my $gcov, '-|', "cd '$home' && gcov -t $words 2>/dev/null" or die "gcov: $!\n";
    while (my $row = <$gcov>) {
        if ($row =~ /^\s*-:\s*0:Source:(.*)$/) { $file = $1; next }
        next unless defined $file && $file =~ m{^(?:common-dsp|plugins)/};
        my ($times, $line) = $row =~ /^\s*([#=\d]+)\*?:\s*(\d+):/ or next;
        $times = 0 if $times !~ /^\d+$/;
        $count{"$file $line"} = ($count{"$file $line"} // 0) + $times;
    }
    close $gcov;
    return join '', map { "$_ $count{$_}\n" } sort keys %count;
}

# {file}{line} = how often
sub reached { return map_of($_[0])->{reached} }

# CPU seconds with counters; undef where the program is long.
sub seconds { return map_of($_[0])->{seconds} }

sub map_of {
    my ($program) = @_;
    return $map{$program} //= do {
        my ($seconds, @lines) = split /\n/, Room::read_file(file_of($program));
        my %reached;
        for (@lines) {
            my ($file, $line, $times) = split / /;
            $reached{$file}{$line} = $times;
        }
        {seconds => $seconds, reached => \%reached};
    };
}

# ---- Lines ----

# Whether the program, linked from the archive, holds that file at all.
sub holds {
    my ($program, $file) = @_;
    return 1 if $file !~ /\.c$/;
    my $object = $file =~ s/\.c$/.gcda/r;
    $linked{$program} //= Room::read_file("$Room::room/counted/out/$program");
    return index($linked{$program}, $object) >= 0;
}

# Whether the program's run reaches the line of a mutant: the line itself, or the one before it in its statement. A
# constant or a table outside functions counts as reached where a line that names it is, else where its file is. A long
# program counts as reaching all of the files in it.
sub covers {
    my ($program, $site) = @_;
    my ($file, $line) = @$site{qw(file line)};
    return 0 unless holds($program, $file);
    return 1 unless defined seconds($program);
    my $reached = reached($program);
    my $name = outside_name($file, $line);
    return any_reached($reached, $name, $file) if defined $name;
    my $lines = $reached->{$file} or return 0;
    for my $near (reverse $line - 15 .. $line) {
        return $lines->{$near} > 0 if exists $lines->{$near};
    }
    return 1;
}

# The name that a line outside functions declares; undef for a line within one.
sub outside_name {
    my ($file, $line) = @_;
    my @lines = @{$source{$file} //= [split /\n/, Room::read_file("$Room::room/counted/$file")]};
    return $1 if $lines[$line - 1] =~ /^\s*#\s*define\s+(\w+)/;
    for (my $at = $line - 1; $at >= 0; --$at) {
        return undef if $lines[$at] =~ /^\{/ || $lines[$at] =~ /^static inline .*\{/;
        next unless $at == $line - 1 || $lines[$at] =~ /^\S/;
        last if $lines[$at] =~ /^\}/ && $at != $line - 1;
        if ($lines[$at] =~ /^(?:static |const |enum|typedef|extern )/) {
            return $1 if $lines[$line - 1] =~ /(\w+)\s*=/;
            return $lines[$at] =~ /(\w+)(?:\[[^\]]*\])*\s*=/ ? $1 : '';
        }
    }
    return '';
}

sub any_reached {
    my ($reached, $name, $file) = @_;
    my @files = $file =~ /\.c$/ ? ($file) : keys %$reached;
    my ($named, $any) = (0, 0);
    for my $other (@files) {
        my $lines = $reached->{$other} or next;
        my $text = $source{$other} //= [split /\n/, Room::read_file("$Room::room/counted/$other")];
        for my $line (keys %$lines) {
            $any ||= $lines->{$line} > 0;
            next unless length $name && ($text->[$line - 1] // '') =~ /\b\Q$name\E\b/;
            return 1 if $lines->{$line} > 0;
            $named = 1;
        }
    }
    return !$named && $any;
}

1;
