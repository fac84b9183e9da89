# What a person types who stretches an export by hand: the Y word of every line, scaled.
match($0, /Y-?[0-9.]+/) {
    $0 = substr($0, 1, RSTART) sprintf("%.4f", substr($0, RSTART + 1, RLENGTH - 1) * 1.03) \
        substr($0, RSTART + RLENGTH)
}
{ print }
