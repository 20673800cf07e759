# Judges coverage: perl tests/uncovered.pl coverage.json uncovered.txt
# Every line and branch that no test reached has to be named in the second file, by its file and text, with a reason.
use strict;
use warnings;
use JSON::PP;

my ($json_path, $named_path) = @ARGV;
my $least = 95;    # per cent of the lines

sub slurp {
    open(my $file, '<', $_[0]) or die "$_[0]: $!\n";
    local $/;
    return <$file>;
}

my %named;
for (grep { !/^\s*(#|$)/ } split /\n/, -e $named_path ? slurp($named_path) : '') {
    my ($file, $text, $reason) = map { s/^\s+|\s+$//gr } split / \| /, $_;
    die "$named_path: a line without three fields: $_\n" unless $reason;
    $named{"$file | $text"} = $reason;
}

my ($lines, $hit, $branches, $taken, $unnamed, %used) = (0, 0, 0, 0, 0);
for my $file (@{decode_json(slurp($json_path))->{files}}) {
    my @source = split /\n/, slurp($file->{file});
    for my $line (grep { !$_->{'gcovr/noncode'} } @{$file->{lines}}) {
        my $missed = grep { !$_->{count} } @{$line->{branches}};
        $lines++;
        $hit++ if $line->{count};
        $branches += @{$line->{branches}};
        $taken += @{$line->{branches}} - $missed;
        next if $line->{count} && !$missed;
        my $text = $source[$line->{line_number} - 1] =~ s/^\s+|\s+$//gr;
        my $key = "$file->{file} | $text";
        if ($named{$key}) { $used{$key} = 1; next }
        printf "not reached: %s:%d: %s%s\n", $file->{file}, $line->{line_number}, $text,
            $line->{count} ? " ($missed of " . @{$line->{branches}} . " branches)" : '';
        $unnamed++;
    }
}
print "named in $named_path, but reached or gone: $_\n" for sort grep { !$used{$_} } keys %named;
my $share = $lines ? 100 * $hit / $lines : 0;
printf "lines %.1f %% (%d of %d), branches %.1f %% (%d of %d), %d places not reached and not named, %d named\n",
    $share, $hit, $lines, $branches ? 100 * $taken / $branches : 0, $taken, $branches, $unnamed, scalar keys %used;
exit($share >= $least && !$unnamed ? 0 : 1);
