"""The balance of a duct tree in as many digits as are asked for; see make_random_networks.py.

`Tree` takes a document as JSON has it and a set of open hoods. The laws are written out here from
their sources, named beside each; nothing of the crate is run. The constants of the laws are their
decimals; the numbers of a document are the doubles that its text means, in units of factor 1.

Unknowns are the flows of everything that takes air in: open hoods, shut hoods whose gates leak,
walls, holes. What is left of the fan's pressure at each of them must be nothing. Newton's method in
doubles (numpy) comes near; then the residuals are worked out in the digits asked for and corrected
with the matrix in doubles, each step gaining ten digits or so, until the step is below 1e-60 of
every flow.
"""

import math

import numpy
from mpmath import mp, mpf

# ---------------------------------------------------------------------------------------------
# Laws. Those evaluated at a flow take doubles and mpf alike and return value and slope.
# ---------------------------------------------------------------------------------------------


def colebrook(re, rel):
    """1/sqrt f = -2 log10(rel/3.7 + 2.51/(Re sqrt f)), C. F. Colebrook 1939, by Newton's method on
    y = 1/sqrt f; returns f and d ln f / d ln Re."""
    y = 8.0
    for _ in range(9):
        y = colebrook_step(float(re), float(rel), y)[0]
    if isinstance(re, mpf):
        y = mpf(y)
        for _ in range(4):  # 1e-15, 1e-30, 1e-60, 1e-120
            y = colebrook_step(re, rel, y)[0]
    c = colebrook_step(re, rel, y)[1]
    return 1 / (y * y), -2 * c / (1 + c)


def colebrook_step(re, rel, y):
    log, ln10 = (mp.log, mp.ln10) if isinstance(re, mpf) else (math.log, math.log(10))
    inside = rel * 10 / 37 + y * 251 / (100 * re)
    c = 502 / (100 * ln10 * re * inside)
    return y - (y + 2 * log(inside) / ln10) / (1 + c), c


def friction(re, rel):
    """64/Re to 2000, Colebrook from 4000, between them the cubic in Re with value and slope of
    both; returns f and d ln f / d ln Re."""
    if re <= 2000:
        return 64 / re, -1
    if re >= 4000:
        return colebrook(re, rel)
    f1, log_slope = colebrook(re * 0 + 4000, rel)
    f0 = (re * 0 + 32) / 1000
    d0, d1 = -f0, f1 * log_slope / 2  # by t = (Re - 2000) / 2000
    t = (re - 2000) / 2000
    c2, c3 = 3 * (f1 - f0) - 2 * d0 - d1, 2 * (f0 - f1) + d0 + d1
    f = f0 + t * (d0 + t * (c2 + t * c3))
    return f, (d0 + t * (2 * c2 + 3 * t * c3)) * re / (2000 * f)


def pchip_slopes(x, y):
    """F. N. Fritsch and J. Butland, SIAM J. Sci. Stat. Comput. 5 (1984) 300; ends: one-sided
    three-point slope, limited, as in SciPy's PchipInterpolator."""
    h = [b - a for a, b in zip(x, x[1:])]
    m = [(b - a) / d for a, b, d in zip(y, y[1:], h)]

    def inner(i):
        if m[i - 1] * m[i] <= 0:
            return mpf(0)
        w1, w2 = 2 * h[i] + h[i - 1], h[i] + 2 * h[i - 1]
        return (w1 + w2) / (w1 / m[i - 1] + w2 / m[i])

    def end(h0, h1, m0, m1):
        d = ((2 * h0 + h1) * m0 - h0 * m1) / (h0 + h1)
        if d * m0 <= 0:
            return mpf(0)
        return 3 * m0 if m0 * m1 <= 0 and abs(d) > 3 * abs(m0) else d

    inside = [inner(i) for i in range(1, len(m))]
    return [end(h[0], h[1], m[0], m[1]), *inside, end(h[-1], h[-2], m[-1], m[-2])]


def hermite(x, y, slopes, at):
    """The cubic through points with these slopes; straight on with the end slope outside."""
    if at <= x[0]:
        return y[0] + slopes[0] * (at - x[0]), slopes[0]
    if at >= x[-1]:
        return y[-1] + slopes[-1] * (at - x[-1]), slopes[-1]
    i = max(i for i in range(len(x) - 1) if x[i] <= at)
    h = x[i + 1] - x[i]
    t = (at - x[i]) / h
    d0, d1, rise = slopes[i] * h, slopes[i + 1] * h, y[i + 1] - y[i]
    c2, c3 = 3 * rise - 2 * d0 - d1, d0 + d1 - 2 * rise
    return y[i] + t * (d0 + t * (c2 + t * c3)), (d0 + t * (2 * c2 + 3 * t * c3)) / h


def gate_k(opening, leak_over_area):
    """Idelchik, diagram 9-5, between its points the cubic in ln K, straight on above 0.9; below
    0.2 the crate's own continuation to the orifice of a crescent, in 1/sqrt K over the opening. The
    leak of the shut gate is an orifice (0.62) in parallel at every opening."""
    x = [mpf(i) / 10 for i in range(2, 10)]
    y = [mp.log(mpf(k)) for k in "35 10 4.6 2.06 0.98 0.44 0.17 0.06".split()]
    slopes = pchip_slopes(x, y)
    if opening >= x[0]:
        passage = mp.exp(-hermite(x, y, slopes, opening)[0] / 2)
    else:
        low = mp.exp(-y[0] / 2)
        ends = [mpf("0.62") * 4 / mp.pi, -slopes[0] / 2 * low]
        passage = hermite([mpf(0), x[0]], [mpf(0), low], ends, opening)[0]
    return 1 / (passage + mpf("0.62") * leak_over_area) ** 2


def sharp_step_k(small_over_large, narrows):
    """On the velocity pressure of the smaller bore: Borda and Carnot widening; D. C. Rennels and
    H. M. Hudson, Pipe Flow, 2012, narrowing."""
    b = mp.sqrt(small_over_large)
    if not narrows:
        return (1 - b**2) ** 2
    jet = mpf("0.622") * (1 - mpf("0.215") * b**2 - mpf("0.785") * b**5)
    return mpf("0.0696") * (1 - b**5) * (1 + jet) ** 2 + jet**2


def smooth_bend(r_over_d, angle):
    """Rennels and Hudson 2012: the share without f, and what multiplies f."""
    s = mp.sin(angle / 2)
    power = r_over_d ** (4 * angle / mp.pi)
    f_share = angle * r_over_d + mpf("2.4") * s + mpf("6.6") * (mp.sqrt(s) + s) / power
    return s / 10, f_share


def gardel(a, cosine):
    """A. Gardel 1957, no fillet: coefficients of Qs^2, Qs Qb, Qb^2 of branch and straight inlet on
    the velocity pressure of the outlet."""
    branch = mpf("0.4") + mpf("0.8") / a**2 - mpf("0.2") * cosine / a - cosine
    straight = 1 - mpf("0.38") * a - mpf("1.62") * cosine / a
    return (-mpf("0.92"), 2 - a, branch), (mpf("0.03"), 2 - a, straight)


def crane(a, degrees):
    """Crane TP-410, 2009 and later, as in fluids 1.3.1."""
    turns = [(30, "1.74"), (45, "1.41"), (60, "1"), (90, "0")]
    i = 0 if degrees <= 45 else 1 if degrees <= 60 else 2
    (x0, f0), (x1, f1) = turns[i], turns[i + 1]
    turn = (mpf(f0) + (degrees - x0) * (mpf(f1) - mpf(f0)) / (x1 - x0)) / a
    steep = (mpf(0), mpf("1.55"), mpf("0.55"))
    straight = (mpf(0), mpf(2), 1 - turn) if degrees < 75 else steep
    return (mpf(-1), mpf(2), 1 + 1 / a**2 - turn), straight


def crane_factor(q):
    """C of Crane's branch above a = 0.35, with the cubic from q = 0.35 to 0.45 in place of the jump
    at 0.4; returns its slope too."""
    one = q * 0 + 1
    if q <= 35 * one / 100:
        return 9 * (1 - q) / 10, -9 * one / 10
    if q >= 45 * one / 100:
        return 55 * one / 100, 0 * one
    t = 10 * q - 35 * one / 10
    y0, m0, y1 = 585 * one / 1000, -9 * one / 100, 55 * one / 100
    c2, c3 = 3 * (y1 - y0) - 2 * m0, 2 * (y0 - y1) + m0
    return y0 + t * (m0 + t * (c2 + t * c3)), 10 * (m0 + t * (2 * c2 + 3 * t * c3))


# m3/s per m2 of wall at 1 Pa, exponent 0.65: EN 12237, EN 1507, EN 16798-3.
CLASSES = {"atc1": "0.33e-6", "atc2": "1e-6", "atc3": "3e-6", "atc4": "9e-6", "atc5": "27e-6"}
CLASSES["atc6"] = "67.5e-6"
# Roughness in mm: 2021 ASHRAE Handbook - Fundamentals, ch. 21, table 1.
WALLS = {"galvanised": "0.09", "spiral": "0.12", "smooth_plastic": "0.046", "aluminium": "0.061"}
ENTRIES = {"plain": "0.93", "flanged": "0.49", "bellmouth": "0.04"}  # ACGIH


# ---------------------------------------------------------------------------------------------
# A document becomes a tree of laws.
# ---------------------------------------------------------------------------------------------


def number(text):
    """The double that the text of a quantity means, exactly; every unit used has factor 1."""
    return mpf(float(text.split(" ", 1)[0]))


class Bore:
    def __init__(self, size):
        if "round" in size:
            self.d = number(size["round"])
            self.area, self.perimeter = mp.pi / 4 * self.d**2, mp.pi * self.d
        else:
            w, h = (number(size["rectangular"][side]) for side in ("width", "height"))
            self.area, self.perimeter = w * h, 2 * (w + h)
            self.d = 4 * self.area / self.perimeter


class Run:
    """dp = (k2 + sum kf f(Re)) q^2 + k1 q."""

    def __init__(self, tree, size, wall, parts, upstream=None):
        self.tree, self.bore = tree, Bore(size)
        self.head = tree.rho / (2 * self.bore.area**2)
        self.k2, self.k1, self.shut_k2 = mpf(0), mpf(0), None
        self.cut_off, self.frictions, self.wall_m = False, [], mpf(0)
        if isinstance(wall, str):
            wall = mpf(WALLS[wall]) / 1000
        else:
            wall = number(wall["roughness"])
        self.wall = wall
        if upstream:
            self.joint(*upstream, parts)
        for part in parts:
            self.part(part)

    def joint(self, size, before, parts):
        """A sharp step, unless a vessel (filter, separator) stands there; into a wider vessel the
        velocity pressure is lost all the same."""
        other = Bore(size)
        vessel = lambda part: "filter" in part or "separator" in part
        told = parts and vessel(parts[0]) and self.bore.area <= other.area
        if other.area == self.bore.area or told or (before and vessel(before[-1])):
            return
        small, large = sorted([other.area, self.bore.area])
        k = sharp_step_k(small / large, self.bore.area < other.area)
        self.k2 += k * self.tree.rho / (2 * small**2)

    def k(self, k):
        self.k2 += k * self.head

    def rub(self, times, roughness):
        """A loss of `times` f heads."""
        re_per_q = self.tree.rho * self.bore.d / (self.tree.mu * self.bore.area)
        self.frictions.append((times * self.head, re_per_q, roughness / self.bore.d))

    def part(self, part):
        [(kind, it)] = part.items()
        if kind in ("separator", "filter") and self.tree.fitted.get(kind):
            return
        if kind == "duct":
            self.wall_m += number(it)
            self.rub(number(it) / self.bore.d, self.wall)
        elif kind == "k":
            self.k(mpf(it))
        elif kind == "elbow" and "k" in it:
            self.k(mpf(it["k"]))
        elif kind == "elbow":
            angle = number(it["smooth"]["angle"]) * mp.pi / 180
            fixed, f_share = smooth_bend(mpf(it["smooth"]["r_over_d"]), angle)
            self.k(fixed)
            self.rub(f_share, self.wall)
        elif kind == "hose":
            length = number(it["length"])
            self.wall_m += length
            if "wire" in it["kind"]:
                # 2021 ASHRAE Handbook - Fundamentals, ch. 21, eq. 22 and 23.
                slack = 100 * mpf(it["kind"]["wire"]["compression"])
                spread = mp.exp(-mpf("0.00496") * 1000 * self.bore.d)
                times, rough = 1 + mpf("0.58") * slack * spread, mpf("0.0009")
            else:
                times, rough = mpf(it["kind"]["ribbed"]["times_smooth"]), mpf(0)
            self.rub(times * length / self.bore.d, rough)
        elif kind == "gate":
            leak = number(it.get("leak_area", "0 m2")) / self.bore.area
            if it["opening"] == 0 and leak == 0:
                self.cut_off = True
                return
            k = gate_k(mpf(it["opening"]), leak)
            self.k(k)
            if leak > 0:
                self.shut_k2 = (gate_k(mpf(0), leak) - k) * self.head
        elif kind == "separator" and "velocity_heads" in it:
            self.k(mpf(it["velocity_heads"]))
        elif kind == "separator":
            self.k2 += number(it["rated"]["drop"]) / number(it["rated"]["at"]) ** 2
        elif kind == "filter" and "rated" in it:
            self.k1 += number(it["rated"]["drop"]) / number(it["rated"]["at"])
        elif kind == "filter":
            linear, quadratic = it["terms"]["linear"], it["terms"]["quadratic"]
            self.k1 += number(linear["drop"]) / number(linear["at"])
            self.k2 += number(quadratic["drop"]) / number(quadratic["at"]) ** 2
        elif kind == "port":
            self.k2 += mpf(it["k"]) * self.tree.rho / (2 * Bore(it["size"]).area ** 2)
        else:
            raise ValueError(kind)

    def loss(self, q):
        """Loss and slope."""
        get = (lambda v: v) if isinstance(q, mpf) else float
        k2, k1 = get(self.k2), get(self.k1)
        dp, slope = (k2 * q + k1) * q, 2 * k2 * q + k1
        for kf, re_per_q, rel in self.frictions:
            f, log_slope = friction(get(re_per_q) * q, get(rel))
            rub = get(kf) * f * q
            dp, slope = dp + rub * q, slope + rub * (2 + log_slope)
        return dp, slope


class Junction:
    """What each inlet loses at the flows of all, with slopes. `inlets`: bore and join of each."""

    def __init__(self, tree, model, outlet, inlets):
        self.heads = [tree.rho / (2 * bore.area**2) for bore, _ in inlets]
        degrees = [number(join.get("angle", "0 deg")) for _, join in inlets]
        # The same to the last digit, and exactly 0 at 90 degrees.
        cosines = [mp.sin((90 - d) * mp.pi / 180) for d in degrees]
        self.own = [mpf(join.get("extra_k", 0.0)) for _, join in inlets]
        branch = next((i for i, d in enumerate(degrees) if d > 0), 0)
        shaped = len(inlets) == 2 and degrees[1 - branch] == 0
        if shaped:
            # Straight inlet and outlet are of one bore.
            shaped = abs(inlets[1 - branch][0].area / outlet.area - 1) < mpf("1e-3")
        a = inlets[branch][0].area / outlet.area
        tested = shaped and 45 <= degrees[branch] <= 90 and mpf("0.35") <= a <= mpf("1.001")
        if model == "automatic":
            model = "gardel" if tested else "momentum"
        self.model = model
        if model == "fixed_k":
            self.own = [k + mpf(join["k"]) for k, (_, join) in zip(self.own, inlets)]
        elif model == "momentum":
            # Idelchik, ch. 7, eq. 7-1 and 7-2 (after Levin and Taliev), A = 1, no free terms.
            self.outlet_head = tree.rho / (2 * outlet.area**2)
            self.c = [tree.rho * c / (outlet.area * b.area) for c, (b, _) in zip(cosines, inlets)]
        else:
            assert shaped, "a wye formula asks for a straight inlet of the outlet's bore"
            assert model == "crane" or tested, "outside Gardel's range"
            self.branch, self.jump = branch, model == "crane" and a > mpf("0.35")
            both = gardel(a, cosines[branch]) if model == "gardel" else crane(a, degrees[branch])
            k = tree.rho / (2 * outlet.area**2)
            self.forms = [[k * v for v in form] for form in both]

    def losses(self, q):
        """Loss of each inlet and the matrix of slopes."""
        get = (lambda v: v) if isinstance(q[0], mpf) else float
        own = [get(k * head) for k, head in zip(self.own, self.heads)]
        dp = [k * x * x for k, x in zip(own, q)]
        slopes = numpy.diag([2 * float(k * x) for k, x in zip(own, q)])
        if self.model == "momentum":
            total, kc = sum(q), get(self.outlet_head)
            shared = kc * total * total - sum(get(c) * x * x for c, x in zip(self.c, q))
            dp = [d + shared + get(v) * x * x for d, v, x in zip(dp, self.heads, q)]
            slopes += numpy.array([2 * float(kc * total - get(c) * x) for c, x in zip(self.c, q)])
            slopes += numpy.diag([2 * float(v * x) for v, x in zip(self.heads, q)])
        elif self.model in ("gardel", "crane"):
            b, s = self.branch, 1 - self.branch
            for inlet, form in zip((b, s), self.forms):
                ss, sb, bb = (get(v) for v in form)
                loss = (ss * q[s] + sb * q[b]) * q[s] + bb * q[b] * q[b]
                by = {b: sb * q[s] + 2 * bb * q[b], s: 2 * ss * q[s] + sb * q[b]}
                if self.jump and inlet == b:
                    total = q[b] + q[s]
                    c, by_share = crane_factor(q[b] / total)
                    slope = by_share * loss / (total * total)
                    by = {b: c * by[b] + slope * q[s], s: c * by[s] - slope * q[b]}
                    loss = c * loss
                dp[inlet] += loss
                for j in (b, s):
                    slopes[inlet, j] += float(by[j])
        return dp, slopes


class Leak:
    """Q = C p^n, told as p(Q)."""

    def __init__(self, c, n):
        self.c, self.n = c, n

    def pressure(self, q):
        get = (lambda v: v) if isinstance(q, mpf) else float
        p = (q / get(self.c)) ** (1 / get(self.n))
        return p, p / (get(self.n) * q)


class Fan:
    """The curve at the density of the air."""

    def __init__(self, tree, fan):
        self.q = [number(q) for q, _ in fan["points"]]
        scale = tree.rho / number(fan["density"])
        self.p = [scale * number(p) for _, p in fan["points"]]
        self.slopes = pchip_slopes(self.q, self.p)
        self.floats = [[float(v) for v in row] for row in (self.q, self.p, self.slopes)]

    def at(self, q):
        if isinstance(q, mpf):
            return hermite(self.q, self.p, self.slopes, q)
        return hermite(*self.floats, q)


class Tree:
    """A document as laws, with a set of open hoods."""

    def __init__(self, study, open_hoods):
        self.rho = number(study["air"]["density"])
        self.mu = number(study["air"]["viscosity"])
        sections, collector = study["section"], study["collector"]
        fan = collector["fan"]
        self.fitted = fan["fitted"]
        names = [s["id"] for s in sections]
        n = len(sections)
        self.into = [names.index(s["into"]) if "into" in s else None for s in sections]
        self.inlets = [[i for i in range(n) if self.into[i] == j] for j in range(n)]
        self.mains = [i for i in range(n) if self.into[i] is None]
        model = lambda of: of.get("junction", study.get("junction", "momentum"))
        inline = lambda i: (sections[i]["size"], sections[i].get("parts", []))
        joins = lambda i: (Bore(sections[i]["size"]), sections[i].get("join", {}))
        self.runs, self.junctions, self.holes, self.walls = [], [], [], []
        for section, inlets in zip(sections, self.inlets):
            parts = section.get("parts", [])
            upstream = inline(inlets[0]) if len(inlets) == 1 else None
            wall = section.get("wall", study["wall"])
            run = Run(self, section["size"], wall, parts, upstream)
            if "hood" in section:
                entry = section["hood"]["entry"]
                if isinstance(entry, str):
                    run.k(mpf(ENTRIES[entry]))
                elif "k" in entry:
                    run.k(mpf(entry["k"]))
                else:
                    run.k(1 / mpf(entry["coefficient"]) ** 2 - 1)
            self.runs.append(run)
            joining = [joins(i) for i in inlets]
            junction = Junction(self, model(section), run.bore, joining) if inlets[1:] else None
            self.junctions.append(junction)
            self.holes.append(self.hole(section["leak"]) if "leak" in section else None)
            self.walls.append(self.leaking_wall(section, run))
        self.collect(collector, study["wall"], inline)
        if len(self.mains) > 1:
            joining = [joins(i) for i in self.mains]
            self.adapter = Junction(self, model(collector), self.before[0].bore, joining)
        else:
            self.adapter = None
        self.open_hoods(sections, open_hoods)
        self.fan = Fan(self, fan) if fan["points"] else None

    def hole(self, leak):
        if "hole" in leak:
            return Leak(mpf("0.62") * number(leak["hole"]) * mp.sqrt(2 / self.rho), mpf("0.5"))
        return Leak(number(leak["power"]["at_1_pa"]), mpf(leak["power"]["exponent"]))

    @staticmethod
    def leaking_wall(section, run):
        tightness = section.get("tightness")
        if tightness is None or run.wall_m == 0:
            return None
        n = mpf("0.65")
        if isinstance(tightness, str):
            c = mpf(CLASSES[tightness])
        else:
            # cfm per 100 ft2 at 1 in wg.
            c = mpf(tightness["smacna"]) * mpf("0.3048") / 6000 / mpf("249.08891") ** n
        return Leak(c * run.bore.perimeter * run.wall_m, n)

    def collect(self, collector, wall, inline):
        """The runs of the collector, and the velocity pressures between the fan's basis and the
        open air: the exit is charged once; fan static is fan total less that at the fan's outlet; a
        test pipe's suction holds the velocity pressure in the pipe besides."""
        fan = collector["fan"]
        upstream = inline(self.mains[0]) if len(self.mains) == 1 else None
        self.before, self.after = [], []
        for run in collector.get("before", []):
            parts = run.get("parts", [])
            self.before.append(Run(self, run["size"], run.get("wall", wall), parts, upstream))
            upstream = (run["size"], parts)
        upstream = (fan["outlet"], []) if "outlet" in fan else None
        for run in collector.get("after", []):
            parts = run.get("parts", [])
            self.after.append(Run(self, run["size"], run.get("wall", wall), parts, upstream))
            upstream = (run["size"], parts)
        head = lambda size: self.rho / (2 * Bore(size).area ** 2)
        outlet = head(fan["outlet"]) if "outlet" in fan else None
        end = self.after[-1].head if self.after else None
        pipe = mpf(0)
        if isinstance(fan["basis"], dict):
            pipe = head(fan["basis"]["test_pipe"]["bore"])
        if fan["basis"] == "total":
            self.beyond = outlet if end is None else end
            self.total_over_curve = mpf(0)
        else:
            self.beyond = pipe + (0 if end is None else end - outlet)
            self.total_over_curve = None if outlet is None else outlet - pipe

    def open_hoods(self, sections, open_hoods):
        """Which sections carry air: everything that takes some in, unless a gate cuts it off."""
        n = len(sections)
        cut = [run.cut_off for run in self.runs]
        self.down = []  # each section after the one that it drains into
        stack = list(self.mains)
        while stack:
            i = stack.pop()
            self.down.append(i)
            for inlet in self.inlets[i]:
                cut[inlet] |= cut[i]
            stack.extend(self.inlets[i])
        self.leaves, self.hood_of = [], {}
        self.shut = [mpf(0)] * n
        for i, section in enumerate(sections):
            if cut[i]:
                continue
            if "hood" in section:
                hood = section["hood"]["id"]
                if hood in open_hoods:
                    self.hood_of[i] = hood
                    self.leaves.append(("open", i))
                elif self.runs[i].shut_k2 is not None:
                    self.hood_of[i] = hood
                    self.shut[i] = self.runs[i].shut_k2
                    self.leaves.append(("shut", i))
            if self.holes[i]:
                self.leaves.append(("hole", i))
            if self.walls[i]:
                self.leaves.append(("wall", i))
        size = len(self.leaves)
        self.at_body, self.at_end = numpy.zeros((n, size)), numpy.zeros((n, size))
        for leaf, (kind, i) in enumerate(self.leaves):
            self.at_end[i, leaf] = 1
            if kind != "wall":
                self.at_body[i, leaf] = 1
            below = self.into[i]
            while below is not None:
                self.at_body[below, leaf] = self.at_end[below, leaf] = 1
                below = self.into[below]
        self.live = self.at_end.any(axis=1)

    def collector_loss(self, q):
        losses = [run.loss(q) for run in self.before + self.after]
        beyond = self.beyond if isinstance(q, mpf) else float(self.beyond)
        dp = sum(dp for dp, _ in losses) + beyond * q * q
        return dp, sum(slope for _, slope in losses) + 2 * beyond * q

    def flows(self, x):
        zero = x[0] * 0
        n = len(self.runs)
        bodies, ends = [zero] * n, [zero] * n
        for leaf, (kind, i) in enumerate(self.leaves):
            ends[i] += x[leaf]
            if kind != "wall":
                bodies[i] += x[leaf]
            below = self.into[i]
            while below is not None:
                ends[below] += x[leaf]
                bodies[below] += x[leaf]
                below = self.into[below]
        return bodies, ends

    def residuals(self, x, pressure=None):
        """Pressure left over at each leaf, its matrix of slopes in doubles, and the suction of
        total pressure at the end of each section. The fan drives, or the given pressure."""
        exact = isinstance(x[0], mpf)
        get = (lambda v: v) if exact else float
        bodies, ends = self.flows(x)
        total = sum(x)
        offer, slope = self.fan.at(total) if pressure is None else (get(pressure), 0.0)
        lost, lost_slope = self.collector_loss(total)
        size = len(x)
        left, jacobian = [None] * size, numpy.zeros((size, size))
        index = {leaf: j for j, leaf in enumerate(self.leaves)}
        suction, slopes = [None] * len(self.runs), [None] * len(self.runs)

        def meet(inlets, junction, h, h_slopes):
            if junction is None:
                for i in inlets:
                    suction[i], slopes[i] = h, h_slopes
                return
            losses, by = junction.losses([ends[i] for i in inlets])
            for i, loss, row in zip(inlets, losses, by):
                suction[i] = h - loss
                slopes[i] = h_slopes - row @ self.at_end[inlets]

        root = float(slope - lost_slope) * numpy.ones(size)
        meet(self.mains, self.adapter, offer - lost, root)
        for i in self.down:
            if not self.live[i]:
                continue
            h, by, run, q = suction[i], slopes[i], self.runs[i], bodies[i]
            if ("wall", i) in index:
                # Square to the flow, by the momentum balance; the hole has no velocity pressure.
                j, k = index["wall", i], get(run.head)
                static = h - k * (ends[i] ** 2 - 2 * q * q)
                drop, drop_slope = self.walls[i].pressure(x[j])
                left[j] = static - drop
                from_end = 2 * float(k * ends[i]) * self.at_end[i]
                from_body = 2 * float(k * q) * self.at_body[i]
                jacobian[j] = by - from_end + 2 * from_body
                jacobian[j, j] -= float(drop_slope)
                h = h - k * (ends[i] ** 2 - q * q)
                by = by - from_end + from_body
            if not self.at_body[i].any():
                continue
            dp, dp_slope = run.loss(q)
            shut = get(self.shut[i])
            dp, dp_slope = dp + shut * q * q, dp_slope + 2 * shut * q
            h, by = h - dp, by - float(dp_slope) * self.at_body[i]
            for kind in ("open", "shut", "hole"):
                if (kind, i) in index:
                    j = index[kind, i]
                    left[j], jacobian[j] = h, by
                    if kind == "hole":
                        drop, drop_slope = self.holes[i].pressure(x[j])
                        left[j] = h - drop
                        jacobian[j, j] -= float(drop_slope)
            meet(self.inlets[i], self.junctions[i], h, by)
        return left, jacobian, suction

    def start(self, speed):
        def flow(kind, i):
            if kind == "open":
                return speed * float(self.runs[i].bore.area)
            if kind == "shut":
                k2 = float(self.shut[i] + self.runs[i].k2)
                return math.sqrt(500 / k2)
            leak = self.walls[i] if kind == "wall" else self.holes[i]
            return float(leak.c) * 500 ** float(leak.n)

        return numpy.array([flow(*leaf) for leaf in self.leaves])

    def near(self, pressure=None):
        """Newton's method in doubles; no flow falls by more than nine tenths in one step."""
        for speed in (10, 3, 20, 1, 0.3):
            x = self.start(speed)
            for _ in range(120):
                left, jacobian, _ = self.residuals(list(map(float, x)), pressure)
                step = solve(jacobian * x, left)
                if not numpy.isfinite(step).all():
                    break
                x = x * numpy.clip(1 - step, 0.1, 10)
                if abs(step).max() < 1e-9:
                    return x
        raise ArithmeticError("no balance in doubles")

    def balance(self):
        """The flows in DIGITS digits."""
        x = [mpf(float(v)) for v in self.near()]
        for _ in range(25):
            left, jacobian, _ = self.residuals(x)
            # Towards the end too small for the product of doubles.
            largest = max(abs(v) for v in left)
            if largest == 0:
                return x
            scaled = [float(v / largest) for v in left]
            step = solve(jacobian * numpy.array([float(v) for v in x]), scaled)
            x = [v * (1 - largest * mpf(float(s))) for v, s in zip(x, step)]
            if largest * mpf(float(abs(step).max())) < mpf("1e-60"):
                return x
        raise ArithmeticError("no balance in digits")


def solve(matrix, right):
    right = numpy.array([float(v) for v in right])
    rows = abs(matrix).max(axis=1)
    return numpy.linalg.solve(matrix / rows[:, None], right / rows)
