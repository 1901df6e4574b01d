"""What sewing machines of the period, their stands, thread and screws usually measure.

Each is the least and the greatest in the unit that its name ends with, wide enough for a child's
machine and for a bootmaker's; outside them a figure is doubted and never refused. Common practice,
no source, unless another is named.
"""

STITCH_MM = (0.8, 5.5)
"""A stitch that a household or a saddler's machine sews: a longer figure is stitches to the inch
(8 to 14), a shorter one hardly moves the cloth."""

CLOTH_MM = (0.1, 10.0)
"""Cloth under the foot, all layers: lawn to harness leather."""

THREAD_MM = (0.05, 1.2)
"""A sewing thread: fine silk to a bootmaker's linen."""

GIVEN_OUT_MM = (25.0, 200.0)
"""Thread that a take-up gives out: enough to go round a bobbin case or a shuttle."""

SHANK_MM = (1.2, 3.5)
"""A needle's shank: 1.6 and 2.0 of household and factory, to 2.5 and more for leather."""

NEEDLE_MM = (20.0, 60.0)
"""From the butt to the eye of a needle."""

EYE_BELOW_MM = (0.3, 15.0)
"""Of a needle's eye below the shuttle point's path, the needle at its lowest."""

CLEARANCE_MM = (0.0, 1.0)
"""Between shuttle point and needle."""

RISE_MM = (0.5, 8.0)
"""By which the needle has risen when the shuttle's point meets it: some 2 in rotary hooks."""

CORE_MM = (1.5, 25.0)
"""A bobbin's bare core: the long bobbins of shuttles to the large round ones."""

BOBBIN_MM = (4.0, 60.0)
"""A bobbin, across when full or between its flanges."""

SHUTTLE_TENSION_GF = (3.0, 150.0)
"""Tension of a shuttle's or a bobbin's thread."""

NEEDLE_TENSION_GF = (5.0, 600.0)
"""Tension of a needle thread that sews."""

ZERO_GF = (-30.0, 30.0)
"""What a spring scale shows with nothing on it."""

DRIVING_WHEEL_MM = (15.0, 450.0)
"""A driving wheel: a motor's pulley to a treadle's flywheel."""

HAND_WHEEL_MM = (45.0, 250.0)
"""A head's wheel where the belt bears."""

AXLES_MM = (100.0, 1500.0)
"""Between the axles of a stand's flywheel, or of a motor, and of the head."""

BELT_MM = (2.0, 15.0)
"""A belt's thickness: round leather of stands is 4 to 7."""

BELT_LENGTH_MM = (400.0, 4000.0)
"""A belt, or a string in its place."""

TORQUE_N_M = (0.05, 3.0)
"""Torque of a hand wheel in sewing."""

SLIP_PERCENT = (0.0, 10.0)
"""By which a belt lags, or has been stretched."""

SLIDING_FRICTION = (0.05, 1.0)
"""Of leather, felt, rubber or japan on iron and wood (engineers' tables)."""

HEAD_G = (500.0, 60_000.0)
"""A head: a toy of half a kilogram to a bootmaker's of sixty; a household head has 8 to 14 kg."""

EDGE_G = (20.0, 40_000.0)
"""What a scale shows under one edge of a head."""

BED_MM = (60.0, 700.0)
"""Between two edges under a bed, or along it: a household bed is 370 by 180 at the most."""

EDGES_TILT_DEG = (3.0, 35.0)
"""By which a head is tilted on its edges: over 30 it slides."""

CENTRE_MM = (15.0, 350.0)
"""A head's centre above its seat: arms are 150 to 250 high."""

BOARD_MM = (2.0, 60.0)
"""Walls, floor or ledge of a wooden base, or what is left clear below and beside the works."""

OVERHANG_MM = (0.0, 100.0)
"""By which a base reaches beyond the bed, or its feet stand in."""

WOOD_KG_M3 = (300.0, 1300.0)
"""Woods, air-dry: lime and poplar to lignum vitae (joiners' tables)."""

CRANK_MM = (20.0, 150.0)
"""From a hand wheel's axis to a handle, a string round its rim, or magnets on it: hand wheels are
70 to 250 across."""

CRANK_HEIGHT_MM = (20.0, 300.0)
"""A hand wheel's axis above the seat."""

HAND_MM = (3.0, 80.0)
"""A handle's radius, the knuckles round it, the hand above the wheel's face."""

HAND_N = (1.0, 80.0)
"""A hand's force on a crank: turning machines by hand for long takes some 20 to 50."""

MAGNETS = (2, 24)
"""Magnets under a handle."""

MAGNET_MM = (3.0, 30.0)
"""A magnet across."""

MAGNET_TALL_MM = (1.0, 25.0)
"""A magnet's height."""

FACING_MM = (0.05, 3.0)
"""Japan, paint and felt between a magnet and the iron."""

IRON_MM = (1.5, 40.0)
"""A wheel's rim or spoke: its thickness, or its half width beside a magnet."""

PAD_MM = (3.0, 60.0)
"""A soft pad of a clamp or peg."""

HANDLE_G = (15.0, 600.0)
"""A handle and its arm."""

SEWING_HOURS = (0.25, 70.0)
"""Hours of sewing a week."""

ROOM_CELSIUS = (0.0, 38.0)
"""A workshop's air, in degrees Celsius."""

OIL_AT_40_MM2_S = (4.0, 200.0)
"""Viscosity at 40 degrees of what sewing machines are oiled with: ISO VG 5 to 150, mostly 15 to 32
(ISO 3448 for the grades)."""

OIL_AT_100_MM2_S = (1.2, 25.0)
"""The same oils at 100 degrees."""

SCREW_MM = (1.2, 13.0)
"""A machine's screw over its thread: half an inch at most."""

PITCH_MM = (0.25, 2.2)
"""Pitch of such screws: 100 to 12 to the inch."""

LEADS_MM = (0.7, 7.0)
"""A lead screw of a bench lathe: 36 to 4 to the inch."""

FLANKS_DEG = (42.0, 66.0)
"""Angle between a thread's flanks: 47.5 (BA), 55 (Whitworth), 60, each read to 2 or so."""

SCREW_LONG_MM = (1.5, 80.0)
"""A screw's length, or the length of it that is threaded or engaged."""

SCREW_HEAD_MM = (1.8, 25.0)
"""A screw's head across."""

SCREW_HEAD_TALL_MM = (0.5, 12.0)
"""A screw's head, its height."""

SLOT_MM = (0.2, 4.0)
"""A slot's width or depth."""

DEEPEST_MM = (8.0, 130.0)
"""How deep the lowest of the works hangs below a seat: shuttle races and feed levers 20 to 60."""

WORKS_MM = {"x_mm": (-350.0, 350.0), "y_mm": (-250.0, 250.0), "z_mm": (-DEEPEST_MM[1], 5.0)}
"""Where works hang below a bed, from its middle."""

RIM_MM = {"x_mm": (-350.0, 350.0), "y_mm": (-250.0, 250.0)}
"""A bed's rim from its middle."""

DEPTH_MM = {"height": (-DEEPEST_MM[1], 5.0)}
"""How high a point of them stands above the seat."""

HOLES_MM = {"x_mm": (-350.0, 350.0), "y_mm": (-250.0, 250.0), "diameter_mm": (1.0, 15.0)}
"""Holes of a bed."""

SCREWS_MM = {"pitch_mm": PITCH_MM, "diameter_mm": SCREW_MM, "angle_deg": FLANKS_DEG}
"""A table of screws."""

OILED = {
    "drops": (1.0, 20.0),
    "every_hours": (0.5, 200.0),
    "every_months": (0.25, 36.0),
    "holds_ml": (0.02, 20.0),
}
"""A place that wants oil: drops, hours, months and millilitres."""

PULLS_N = {"pull": (0.2, 80.0), "again": (0.2, 80.0)}
"""Pulls of a string round a hand wheel."""
