"""Bounds of every physical quantity, once: validators, constraints, forms and scripts read them.

Each bound is chosen, because it is wide enough for any home or public reef tank and narrow enough
to catch a slipped digit or a wrong unit.
"""

# Tank box, inside measures [cm].
TANK_SIDE_MIN_CM = 10.0
TANK_SIDE_MAX_CM = 1000.0
TANK_DEPTH_MIN_CM = 5.0
TANK_DEPTH_MAX_CM = 300.0

# A block of rock along each side [cm].
ROCK_SIDE_MIN_CM = 0.5

# A brace at the surface along each side [cm]; what a lid or screen passes of the light [1]: less is
# no lid over corals; what daylight gives just inside a pane [umol m-2 s-1].
BRACE_SIDE_MIN_CM = 0.5
BRACES_MAX = 12
COVER_TRANSMISSION_MIN = 0.05
WINDOW_PAR_MIN_UMOL = 0.1
WINDOW_PAR_MAX_UMOL = 1000.0

# One meter value [umol m-2 s-1]. Full sun at noon is about 2000; a sensor held
# against a strong lamp reads a few thousand.
PAR_MIN_UMOL = 0.0
PAR_MAX_UMOL = 5000.0

# Burst spread, as the standard deviation of the values [umol m-2 s-1].
SPREAD_MAX_UMOL = PAR_MAX_UMOL / 2

# Meter correction factor [1]. Published immersion factors span 1.1 to 1.4;
# spectral errors of blue-heavy light can double a reading.
# One standard deviation of a meter's scale [%]: makers state 5 to 10 % for hobby sensors, and a
# third off is no meter any more. Common practice, no published source.
METER_UNCERTAINTY_MAX_PERCENT = 30.0
METER_FACTOR_MIN = 0.2
METER_FACTOR_MAX = 5.0

# A lux meter's own numbers [lx], and its factor to PAR [umol m-2 s-1 per lx]: known light spans
# 7 (pure blue) to 106 lux per umol (photics.lux). Full sun is about 110 000 lx.
LUX_MAX = 300_000.0
LUX_FACTOR_MIN = 0.005

# A sensor calibrated in air reads low in water: its readings there times this factor [1].
# Published factors span 1.1 to 1.4.
IMMERSION_MIN = 1.0
IMMERSION_MAX = 2.0

# Level of the lights while reading, of the day's peak [%]. Below 1 % a meter shows noise.
LEVEL_MIN_PERCENT = 1.0
LEVEL_MAX_PERCENT = 100.0

# Factor of a light change on the whole light [1].
# A reading below this tells no ratio: mostly the meter's own noise [umol m-2 s-1].
PAR_RATIO_MIN_UMOL = 2.0
LIGHT_FACTOR_MIN = 0.01
LIGHT_FACTOR_MAX = 20.0

# Fixture height above the water [cm] and beam angle (full width at half maximum) [degrees].
FIXTURE_HEIGHT_MIN_CM = 0.0
FIXTURE_HEIGHT_MAX_CM = 300.0
BEAM_MIN_DEG = 5.0
BEAM_MAX_DEG = 170.0

# Day schedule [h].
DAY_HOURS_MAX = 24.0

# Points of one day curve, and the level a light named moonlight may keep all night [1].
DAY_POINTS_MIN = 2
DAY_POINTS_MAX = 96
MOONLIGHT_LEVEL_MAX = 0.05

# A desired PAR band [umol m-2 s-1].
BAND_MIN_UMOL = 1.0
BAND_MAX_UMOL = 2000.0

# Rows one survey may hold, and rows and bytes one import may bring.
SURVEY_READINGS_MAX = 1000
IMPORT_LINES_MAX = 20_000
IMPORT_BYTES_MAX = 2_000_000
# Entries that one table of history may make: a row of two years may hold a dozen.
HISTORY_ENTRIES_MAX = 20_000
# Bytes of a workbook's parts, unpacked.
WORKBOOK_BYTES_MAX = 60_000_000
# Lines and bytes of a logger's file, and samples kept of it: some 50 days of one a minute, a year
# of one each 20 minutes. Longer ones are kept as means.
LOG_LINES_MAX = 150_000
LOG_BYTES_MAX = 12_000_000
LOG_SAMPLES_MAX = 30_000
# Days one logger series may span: two years, more is a slipped date.
LOGGED_DAYS_MAX = 731

# Lit area of a fixture along each side [cm], and its turn about the plumb line [degrees].
FIXTURE_SIDE_MIN_CM = 0.5
FIXTURE_SIDE_MAX_CM = 400.0
TURN_MAX_DEG = 360.0
# Its tilt about its own length, to either side [degrees]: beyond it little meets the water.
TILT_MAX_DEG = 75.0

# What a fixture draws [W] and gives [umol s-1].
WATTS_MAX = 5000.0
PPF_MAX_UMOL_S = 20_000.0

# What a tube loses in 1,000 h of light [%]: common practice counts on some 10 to 20 in a year.
AGEING_LOSS_MAX_PERCENT = 50.0

# Fixtures one tank may carry.
FIXTURES_MAX = 40

# A photometric file: its text [characters], its angles along each side, its intensities.
PHOTOMETRY_CHARS_MAX = 2_000_000
PHOTOMETRY_ANGLES_MAX = 1500
PHOTOMETRY_VALUES_MAX = 300_000

# A light channel: its peak wavelength and width at half of it [nm], or its white [K].
PEAK_NM_MIN = 390.0
PEAK_NM_MAX = 710.0
WIDTH_NM_MIN = 5.0
WIDTH_NM_MAX = 200.0
KELVIN_MIN = 2000.0
KELVIN_MAX = 30_000.0

# How large a coral is across [cm] and as seen from one side [cm2]; a scale beside it [cm].
CORAL_SIZE_MIN_CM = 0.1
CORAL_SIZE_MAX_CM = 200.0
CORAL_AREA_MIN_CM2 = 0.01
CORAL_AREA_MAX_CM2 = 40_000.0
SCALE_MIN_CM = 0.1
SCALE_MAX_CM = 100.0

# Marks on one photo, and points of one outline.
REGIONS_MAX = 12
OUTLINE_POINTS_MAX = 200

# The oldest year a dated entry may carry: older is a slipped digit, and calendars break near 1.
ENTRY_YEAR_MIN = 1980
# How far ahead a plan may begin [d]: later is a slipped digit, and calendars break near 9999.
PLAN_AHEAD_DAYS_MAX = 366

# A value of a water log in whatever unit it names [1]; nutrients and temperatures are not negative.
WATER_VALUE_MAX = 100_000.0
# Values of the water with a name of their own; beyond lies another unit or a slip of the pen:
# pH, salinity [ppt], specific gravity [1], conductivity [mS/cm], calcium [mg/L].
WATER_PH = (4.0, 11.0)
WATER_SALINITY_PPT = (0.0, 60.0)
WATER_GRAVITY = (0.99, 1.06)
WATER_CONDUCTIVITY_MS = (0.0, 90.0)
WATER_CALCIUM_MG = (0.0, 1500.0)

# Photons a fixture gives for its electricity [umol/J]: the physical most for white light is
# about 5, an old tube gives less than 1.
EFFICACY_MIN_UMOL_J = 0.1
EFFICACY_MAX_UMOL_J = 5.0

# Channels one fixture may have.
CHANNELS_MAX = 12

# Acclimation: the most light may rise from one day to the next [%], days between steps [d], and
# the share of light a step's level or screen lets through [%].
RATE_MIN_PERCENT = 1.0
RATE_MAX_PERCENT = 50.0
EVERY_DAYS_MIN = 1
EVERY_DAYS_MAX = 14
# More steps than this are a rate too small for the way, or a slipped digit.
STEPS_MAX = 120

# Light after the step of a trial, for 1 before [1]: more than a doubling is no trial but a shock.
TRIAL_FACTOR = (0.3, 2.0)
# What keepers pay, in any currency: far above what anyone does.
PRICE_MOST = 1_000_000.0
