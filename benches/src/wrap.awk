# The same map as hand.rs in awk: what a user would write instead.
BEGIN {
    foot = 31.75; rim = 10.9956 * 25.4 / 6.283185307179586; height = 114.3; tolerance = 0.01
    slant = sqrt(height ^ 2 + (rim - foot) ^ 2); cosine = height / slant; sine = (rim - foot) / slant
    s0 = 30 * slant / height; degrees = 360 / 6.283185307179586; motion = 1
}
{
    nu = u; nv = v; moves = 0
    for (i = 1; i <= NF; i++) {
        letter = substr($i, 1, 1); value = substr($i, 2) + 0
        if (letter == "X") { nu = value; moves = 1 }
        else if (letter == "Y") { nv = value; moves = 1 }
        else if (letter == "S") power = value
        else if (letter == "F") feed = value
        else if (letter == "G" && value < 2) motion = value
    }
    if (!moves) next
    if (motion == 0) printf "G0X%.4fA%.4fS0\n", nu * cosine, nv / (foot + (s0 + nu) * sine) * degrees
    else {
        r0 = foot + (s0 + u) * sine; r1 = foot + (s0 + nu) * sine; rm = (r0 + r1) / 2
        sagitta = (v / r0 + nv / r1) / 2 - (v + nv) / 2 / rm
        if (sagitta < 0) sagitta = -sagitta
        uneven = r1 > r0 ? (r1 - r0) / rm : (r0 - r1) / rm
        pieces = sqrt(sagitta * rm / tolerance); if (uneven / 0.02 > pieces) pieces = uneven / 0.02
        pieces = pieces > int(pieces) ? int(pieces) + 1 : int(pieces); if (pieces < 1) pieces = 1
        px = u * cosine; pa = v / r0 * degrees
        for (k = 1; k <= pieces; k++) {
            pu = u + (nu - u) * k / pieces; r = foot + (s0 + pu) * sine
            x = pu * cosine; a = (v + (nv - v) * k / pieces) / r * degrees
            wall = sqrt(((x - px) / cosine) ^ 2 + ((a - pa) / degrees * r) ^ 2); if (wall < 1e-9) wall = 1e-9
            printf "G1X%.4fA%.4fS%dF%.1f\n", x, a, power, feed * sqrt((x - px) ^ 2 + (a - pa) ^ 2) / wall
            px = x; pa = a
        }
    }
    u = nu; v = nv
}
END { print "M5\nM2" }
