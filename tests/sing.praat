# Turns recorded speech into singing with the speaker's own vocal tract: each voiced part becomes `stretch` times as long, on
# stepwise notes around the take's median pitch, moved by `semitones`, with vibrato; resynthesis by overlap and add.
form args
  sentence infile
  sentence outfile
  real seed 1
  real lo 75
  real hi 500
  real stretch 2.5
  real semitones 0
endform
# The same seed gives the same song; outfile.txt lists the notes: start and end in the output (s), Hz before vibrato.
random_initializeWithSeedUnsafelyButPredictably (seed)
writeFileLine: outfile$ + ".txt", "# start end hz"
s = Read from file: infile$
p = To Pitch: 0, lo, hi
med = Get quantile: 0, 0, 0.5, "Hertz"
med = med * 2 ^ (semitones / 12)
selectObject: s
dur = Get total duration
m = To Manipulation: 0.01, lo, hi
d = Extract duration tier
selectObject: p
n = Get number of frames
# voiced intervals
inv = 0
nv = 0
for i to n
  f = Get value in frame: i, "Hertz"
  t = Get time from frame number: i
  v = if f = undefined then 0 else 1 fi
  if v <> inv
    if v = 1
      t0 = t
    else
      if t - t0 > 0.08
        nv = nv + 1
        a'nv' = t0
        b'nv' = t
      endif
    endif
    inv = v
  endif
endfor
selectObject: d
for k to nv
  a = a'k'
  b = b'k'
  Add point: a - 0.001, 1
  Add point: a + 0.02, stretch
  Add point: b - 0.02, stretch
  Add point: b + 0.001, 1
endfor
selectObject: m, d
Replace duration tier
# new pitch tier: stepwise notes, vibrato 5.5 Hz in *output* time
pt = Create PitchTier: "new", 0, dur
deg = 0
shift = 0
for k to nv
  a = a'k'
  b = b'k'
  began = a + shift
  deg = deg + randomInteger(-3, 3)
  if deg > 5
    deg = deg - 4
  elsif deg < -5
    deg = deg + 4
  endif
  semi = deg * 1.2
  semi = round(semi)
  note = med * 2^(semi/12)
  t = a
  ph = randomUniform(0, 6.28)
  cnt = 0
  # a long interval gets several notes
  start = a
  while t < b
    out = (t - start) * stretch
    if out > 0.7
      start = t
      deg2 = randomInteger(-3, 3)
      now = a + shift + (t - a) * stretch - 0.0105 * (stretch - 1)
      appendFileLine: outfile$ + ".txt", fixed$ (began, 3), " ", fixed$ (now, 3), " ", fixed$ (note, 2)
      began = now
      note2 = med * 2^(round((deg+deg2)*1.2)/12)
      note = note2
      out = 0
    endif
    ext = if out < 0.25 then 0.1 else 0.45 fi
    f = note * 2^((ext * sin(2*pi*5.6*(t-a)*stretch + ph))/12)
    Add point: t, f
    t = t + 0.005
  endwhile
  shift = shift + (stretch - 1) * (b - a - 0.021)
  appendFileLine: outfile$ + ".txt", fixed$ (began, 3), " ", fixed$ (b + shift, 3), " ", fixed$ (note, 2)
endfor
selectObject: m, pt
Replace pitch tier
selectObject: m
o = Get resynthesis (overlap-add)
# Louder than 1 would be clipped: a quarter is written.
Multiply: 0.25
Save as 32-bit WAV file: outfile$
