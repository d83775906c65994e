/* Written by types.mjs from docs/schema; not to be edited. */

export type CeilingsOne = {
  dryer: string;
  trap_no_load_C: number;
  trap_capacity_kg: number;
  pump: "oil_sealed" | "dry" | "scroll" | "diaphragm";
  reference_load: {
    container: string;
    count: number;
    fill_mL: number;
    place: "shelf" | "manifold";
    lie: "at_rest" | "shell";
    recipe: ({
      time_h: number;
      shelf_C: number;
      /** null: as low as the dryer gets */
      chamber_pressure_mbar: number | null;
    })[];
  };
  /** what the volumes of % v/v are */
  volumes: string;
  ceilings: ({
    solvent: string;
    /** null: not rigid at 2 % either */
    rigid_up_to_percent_v_v: number | null;
    /** one standard deviation of it, from the thermodynamics; null: nothing binds, never reached, or it could not be followed */
    rigid_sigma_percent_v_v: number | null;
    rigid_from_percent_v_v: number | null;
    /** what binds just above */
    rigid_binds: "none" | "solidus" | "margin" | "solute" | "never_solid" | "not_frozen" | "framework" | "trap" | "trap_full" | "duct" | "port" | "pump" | "pump_solvent" | "heat" | "glass" | "time";
    /** null: not wetted at 2 % either */
    wetted_up_to_percent_v_v: number | null;
    /** the same for wetted */
    wetted_sigma_percent_v_v: number | null;
    wetted_from_percent_v_v: number | null;
    wetted_binds: "none" | "solidus" | "margin" | "solute" | "never_solid" | "not_frozen" | "framework" | "trap" | "trap_full" | "duct" | "port" | "pump" | "pump_solvent" | "heat" | "glass" | "time";
    grade: "fitted to cold data" | "fitted to warm data only" | "predicted" | "ideal";
    caution: string;
  })[];
};

export type CeilingsSeveral = {
  dryers: CeilingsOne[];
};

export type Ceilings = CeilingsOne | CeilingsSeveral;

export type Compare = {
  dryers: ({
    /** as asked for */
    name: string;
    dryer: string;
    trap_no_load_C: number;
    pump: "oil_sealed" | "dry" | "scroll" | "diaphragm";
  })[];
  jobs: ({
    job: string;
    purpose: "intermediate" | "screening" | "archive" | "release";
    on: ({
      dryer: string;
      fits: boolean;
      /** set points, pressures or events that this dryer cannot do were changed */
      recipe_adapted: boolean;
      standing: null | "rigid" | "wetted" | "afloat" | "unheld";
      cause: null | "none" | "solidus" | "margin" | "solute" | "never_solid" | "not_frozen" | "framework" | "trap" | "trap_full" | "duct" | "port" | "pump" | "pump_solvent" | "heat" | "glass" | "time";
      /** what binds, or why it does not fit */
      because: string;
      acceptable: boolean;
      run_h: number | null;
      primary_drying_h: number | null;
      least_margin_K: number | null;
      least_margin_sigma_K: number | null;
      vented_g: number | null;
    })[];
  })[];
};

export type PhasesComponent = {
  /** key of the substance */
  substance: string;
  /** liquids before mixing, 20 °C */
  percent_v_v: number;
  percent_w_w: number;
  percent_mol: number;
};

export type PhasesSignature = {
  solids: string[];
  /** number of liquids */
  liquids: number;
};

export type Phases = {
  /** the mixture, in all three units */
  composition: PhasesComponent[];
  /** what the volumes of % v/v are */
  volumes: string;
  solids_mode: "practice" | "equilibrium" | "annealed";
  /** temperature of the first solid, null where none forms */
  first_solid_C: number | null;
  /** one standard deviation, K; null where it is not known */
  first_solid_sigma_K: number | null;
  first_solid: string | null;
  /** below it all is solid; null where liquid never goes */
  solidus_C: number | null;
  /** one standard deviation, K; null where it is not known */
  solidus_sigma_K: number | null;
  /** why liquid never goes */
  solidus_note: string | null;
  /** coldest temperature to which the liquid can be undercooled: there ice forms by itself (homogeneous nucleation); null where ice is not the first solid, or where the liquid is a glass before */
  ice_by_itself_C: number | null;
  /** glass temperature of the liquid that stays (Gordon-Taylor), null where none stays */
  glass_C: number | null;
  solids: ({
    solid: string;
    taken_to_form: boolean;
    crystallises: "readily" | "reluctantly" | "not in practice";
    source: string;
  })[];
  /** changes of phases from warm to cold */
  changes: ({
    temperature_C: number;
    /** one standard deviation, K; null where it is not known */
    temperature_sigma_K: number | null;
    on_cooling: string;
    above: PhasesSignature;
    below: PhasesSignature;
  })[];
  /** from warm to cold */
  table: ({
    temperature_C: number;
    solids: {
      solid: string;
      /** of all */
      percent_w_w: number;
    }[];
    liquids: ({
      state: "liquid" | "glass";
      /** of all */
      percent_w_w: number;
      composition: ({
        substance: string;
        /** of this liquid */
        percent_w_w: number;
        /** one standard deviation; null where it is not known */
        percent_w_w_sigma: number | null;
        /** of this liquid */
        percent_mol: number;
      })[];
    })[];
  })[];
  /** how far to trust it, and where it comes from */
  trust: {
    /** the worst of the pairs */
    grade: "fitted to cold data" | "fitted to warm data only" | "predicted" | "ideal";
    pairs: ({
      substances: string[];
      grade: "fitted to cold data" | "fitted to warm data only" | "predicted" | "ideal";
      /** range of the data, null where not stated */
      from_C: number | null;
      to_C: number | null;
      source: string;
    })[];
    substances: ({
      substance: string;
      worst_grade: "measured" | "correlation" | "estimated" | "from memory";
      /** null for a solute */
      vapour_pressure_source: string | null;
      /** the user's own figures */
      own: boolean;
    })[];
  };
};

export type RecipeSetPoint = {
  time_h: number;
  shelf_C: number;
  chamber_pressure_mbar: number | null;
  ruled_by?: "none" | "product" | "glass" | "choke" | "pressure" | "shelf" | "ramp" | "trap" | "oil" | "time";
};

export type RecipePlan = {
  keeps_limits: boolean;
  dry: boolean;
  breaks: "none" | "product" | "glass" | "choke" | "pressure" | "shelf" | "ramp" | "trap" | "oil" | "time";
  time_h: number | null;
  primary_h: number | null;
  least_margin_K: number | null;
  least_glass_margin_K: number | null;
  slow_ramp_K_per_min: number | null;
  highest_choke: number;
  highest_vapour_over_set_point: number;
  set_points: RecipeSetPoint[];
  /** the job with these set points, as the YAML of a job's file, without the power cuts and vacuum breaks that nobody plans. null: not dry in time */
  job: string | null;
};

export type RecipeSpace = {
  shelf_C: number[];
  chamber_pressure_mbar: number[];
  cells: RecipeCell[];
};

export type RecipeCell = {
  time_h: number | null;
  to_limit_K: number | null;
  hottest_C: number | null;
  choke: number | null;
  vapour_over_set_point: number | null;
  trap_surface_C: number | null;
  breaks: "none" | "product" | "glass" | "choke" | "pressure" | "shelf" | "ramp" | "trap" | "oil" | "time";
};

export type Recipe = {
  job: string;
  dryer: string;
  found: boolean;
  aim: "rigid" | "wetted";
  obstacle: "none" | "product" | "glass" | "choke" | "pressure" | "shelf" | "ramp" | "trap" | "oil" | "time";
  because: string;
  limits: {
    margin_K: number;
    coldest_shelf_C: number;
    warmest_shelf_C: number;
    shelf_ramp_K_per_min: number;
    ramp_between_holds_K_per_min: number;
    choke: number;
    vapour_over_set_point: number;
    time_h: number;
  };
  events_left_out: number;
  holds_to_take: number;
  recipe: RecipePlan | null;
  checked_standing: "rigid" | "wetted" | "afloat" | "unheld" | null;
  fastest_path: RecipePlan | null;
  in_holds: ({
    holds: number;
    plan: RecipePlan | null;
  })[];
  as_it_is: RecipePlan | null;
  design_space: RecipeSpace | null;
  runs: number;
};

export type RiskEstimate = {
  value: number | null;
  standard_error: number | null;
};

export type RiskShelf = {
  accepted_chance: number;
  found: boolean;
  shelf_shift_K: RiskEstimate;
  looked_from_K: number;
  looked_to_K: number;
  chance: RiskEstimate;
  primary_median_h: RiskEstimate;
  primary_p95_h: RiskEstimate;
  curve: {
    shelf_shift_K: number;
    chance: RiskEstimate;
  }[];
};

export type Risk = {
  job: string;
  dryer: string;
  runs: number;
  runs_in_all: number;
  runs_failed: number;
  index_runs: number;
  seed: number;
  as_stated: "rigid" | "wetted" | "afloat" | "unheld";
  leaves_rigid: RiskEstimate;
  leaves_rigid_below: number | null;
  standings: ({
    standing: "rigid" | "wetted" | "afloat" | "unheld";
    chance: RiskEstimate;
    mostly_by: string | null;
  })[];
  dry: RiskEstimate;
  margin_asked_K: number;
  margin_median_K: RiskEstimate;
  margin_p5_K: RiskEstimate;
  hottest_median_C: RiskEstimate;
  hottest_p95_C: RiskEstimate;
  primary_median_h: RiskEstimate;
  primary_p95_h: RiskEstimate;
  end_median_h: RiskEstimate;
  end_p95_h: RiskEstimate;
  residuals: ({
    substance: string;
    median_percent: RiskEstimate;
    p95_percent: RiskEstimate;
    target_percent: number | null;
    chance_above_target: RiskEstimate;
  })[];
  influences: {
    group: string;
    margin_first: RiskEstimate;
    margin_total: RiskEstimate;
    time_first: RiskEstimate;
    time_total: RiskEstimate;
    rigid_first: RiskEstimate;
    rigid_total: RiskEstimate;
  }[];
  shelf_for_risk: null | RiskShelf;
  solidus_sigma_K: number | null;
  inputs: ({
    key: string;
    what: string;
    group: string;
    applies: boolean;
    measure: "factor" | "K" | "sigma";
    distribution: "normal" | "lognormal" | "uniform";
    spread: number;
    correlated_with: string | null;
    correlation: number;
    grade: string;
    source: string;
  })[];
};

export type RoutesRoute = {
  /** none: the job as it is */
  actions: ({
    action: "dilute" | "strip" | "exchange" | "freeze" | "shell" | "spread" | "container" | "hold" | "shelf" | "vacuum" | "onto_shelf" | "rise" | "trap" | "second_trap" | "dry_pump" | "ballast" | "dryer";
    /** what to do, in words */
    text: string;
  })[];
  boilings: {
    bath_C: number;
    /** held by lowering the pressure */
    flask_C: number;
    pressure_from_mbar: number;
    pressure_to_mbar: number;
    /** all loads */
    put_in_g: number;
    /** all loads: over loads, the weight in the flask at which to stop */
    stop_at_g: number;
    loads: number;
    /** all loads one after the other */
    time_h: number;
    solvent_from_percent_v_v: number;
    solvent_to_percent_v_v: number;
    /** added afterwards, water and added solvent */
    made_up_L: number;
    /** of it the added solvent */
    added_solvent_L: number;
  }[];
  dryer: string;
  /** of the first group, in one load */
  containers: number;
  fill_mL: number;
  recipe: ({
    time_h: number;
    shelf_C: number;
    /** null: as low as the dryer gets */
    chamber_pressure_mbar: number | null;
  })[];
  /** runs one after the other */
  loads: number;
  standing: "rigid" | "wetted" | "afloat" | "unheld";
  /** as of dryfront stand */
  cause: "none" | "solidus" | "margin" | "solute" | "never_solid" | "not_frozen" | "framework" | "trap" | "trap_full" | "duct" | "port" | "pump" | "pump_solvent" | "heat" | "glass" | "time";
  because: string;
  acceptable: boolean;
  /** boiling off and all runs; null: no run */
  machine_h: number | null;
  /** one run */
  run_h: number | null;
  boiling_h: number;
  hands_on_min: number;
  /** solvents through an exhaust, all loads */
  vented_g: number;
  /** null: never solid, or no run */
  least_margin_K: number | null;
  least_margin_sigma_K: number | null;
  /** of staying under the limit; null: no such number */
  chance_percent: number | null;
  best_standing: "rigid" | "wetted" | "afloat" | "unheld";
  worst_standing: "rigid" | "wetted" | "afloat" | "unheld";
  to_be_had: string;
  purchase_cost_h: number;
  cost_h: number | null;
  where_it_goes: {
    substance: string;
    vented_g: number;
    trapped_g: number;
    oil_g: number;
    distilled_g: number;
  }[];
  cautions: ("boiling" | "peroxide" | "nitrogen" | "exhaust" | "condenser" | "wetted" | "loads")[];
  /** the job as it stands after the actions, as the YAML of a job's file; what is done before and beside the run stands in its first comments. One text; of several loads, which are alike, the one load */
  jobs: string[];
  /** a dryer that the job needs and that has no file yet (its trap or pump was changed, or its file has no name seen from the job's), in YAML by the name that the job calls it; its file is that name with .yaml. Empty: none */
  dryers: Record<string, string>;
};

export type Routes = {
  job: string;
  dryer: string;
  purpose: "intermediate" | "screening" | "archive" | "release";
  as_it_is: "rigid" | "wetted" | "afloat" | "unheld";
  /** as of dryfront stand */
  as_it_is_cause: "none" | "solidus" | "margin" | "solute" | "never_solid" | "not_frozen" | "framework" | "trap" | "trap_full" | "duct" | "port" | "pump" | "pump_solvent" | "heat" | "glass" | "time";
  as_it_is_acceptable: boolean;
  /** by rising cost; empty: nothing serves */
  routes: RoutesRoute[];
  /** what comes nearest where nothing serves */
  nearest: null | RoutesRoute;
  misses_by: "none" | "margin_K" | "liquid_percent" | "framework_percent" | "load_left_percent" | "trap_kg" | "oil_kg";
  missing: number | null;
  not_possible: ({
    action: "dilute" | "strip" | "exchange" | "freeze" | "shell" | "spread" | "container" | "hold" | "shelf" | "vacuum" | "onto_shelf" | "rise" | "trap" | "second_trap" | "dry_pump" | "ballast" | "dryer";
    text: string;
    why: string;
  })[];
  search: {
    actions: number;
    combinations: number;
    runs: number;
    impossible: number;
    unsolved: number;
    serving: number;
    dominated: number;
    alike: number;
  };
};

export type RunRun = {
  end: "dry" | "framework_lost" | "time_limit";
  time_h: number;
  /** null: not reached */
  primary_h: number | null;
  classes: ({
    name: string;
    count: number;
    spot: "centre" | "edge" | "corner" | "door";
    /** put on the running dryer; null: from the start */
    on_h: number | null;
    /** taken off; null: not */
    off_h: number | null;
    /** nothing but the framework is left; null: not reached */
    solvent_gone_h: number | null;
    /** last free volatile gone; null: not dry */
    dry_h: number | null;
    /** as dry as the job asks; null: not, or not asked */
    target_h: number | null;
    hottest_C: number | null;
    hottest_h: number | null;
    /** negative: the limit is passed */
    least_margin_K: number | null;
    least_margin_h: number | null;
    limit_C: number | null;
    limit_is_solute: boolean;
    most_liquid_percent_w_w: number | null;
    least_framework_percent_v_v: number | null;
    /** Tg of the dried cake less its temperature; null: not followed */
    least_glass_margin_K: number | null;
    least_glass_margin_h: number | null;
    /** estimate of what model (b) would give, less this run; null: cannot be said */
    one_dimension: {
      /** within 3 % and 0.5 K */
      agrees: boolean;
      time_percent: number | null;
      front_K: number | null;
      /** empty where nothing parts them */
      reason: string;
    } | null;
    /** empty without solutes */
    residual: ({
      substance: string;
      low_ppm_of_solids: number | null;
      /** null: no rate is known */
      likely_ppm_of_solids: number | null;
      high_ppm_of_solids: number | null;
      /** of the guideline or the job; null: none */
      limit_ppm: number | null;
      limit_class: "class 1" | "class 2" | "class 3" | "no limit: without adequate data" | "not listed" | "stated";
      /** of ICH Q3C; empty where it names no limit */
      limit_revision: string;
      verdict: "below" | "above" | "cannot be told";
      /** how far the constants of the cake are known; empty where nothing is held */
      sorption_grade: string;
    })[];
    cake_r0_m_s: number;
    cake_a1_1_s: number;
    cake_stated: boolean;
  })[];
  account: ({
    substance: string;
    loaded_g: number;
    /** free in the containers */
    product_g: number;
    /** held by their cakes */
    bound_g: number;
    gas_g: number;
    /** in the traps at the end */
    trap_g: number;
    trap_liquid_g: number;
    /** thawed from the traps on the way */
    drained_g: number;
    oil_g: number;
    exhaust_g: number;
    exhaust_average_g_h: number;
    exhaust_peak_g_h: number;
    exhaust_worst_8h_g_h: number;
    /** once mixed into the air of the hood; null: flow or limit not known */
    peak_percent_of_lower_explosive_limit: number | null;
    worst_8h_percent_of_exposure_limit: number | null;
  })[];
  /** largest share by which an account fails to close */
  account_error: number;
  /** in series */
  traps: ({
    no_load_C: number;
    capacity_g: number;
    /** at the end, by key of the substance */
    deposit_g: Record<string, number>;
    coolant: "dry_ice" | "liquid_nitrogen" | null;
    coolant_boiled_away_g: number | null;
  })[];
  /** with a set point, once evacuated: at it (none), or above it because of what */
  held_h: {
    none: number;
    trap: number;
    duct: number;
    pump: number;
    leak: number;
  };
  heat_in_kJ: number;
  heat_out_kJ: number;
  heat_stored_kJ: number;
  highest_chamber_mbar: number | null;
  /** of the first trap */
  highest_trap_surface_C: number | null;
  /** 0 none, 1 fully */
  highest_duct_choke: number;
  organic_to_pump_g: number;
  trap_full: boolean;
  pump_overloaded: boolean;
  /** null: the dryer's file does not say */
  electricity_kWh: number | null;
  /** in the order of time */
  notices: ({
    time_h: number;
    key: string;
    weight: "note" | "warning" | "alarm";
    /** name of a class; null: the dryer */
    class: string | null;
    what: string;
    evidence: string;
    action: string;
  })[];
  series: ({
    /** negative while loading */
    time_h: number;
    /** by key of the substance, and 'air' */
    chamber_mbar: Record<string, number | null>;
    set_point_mbar: number | null;
    /** what keeps the chamber above its set point */
    held_up_by: "none" | "trap" | "duct" | "pump" | "leak";
    /** of each trap */
    coil_C: number[];
    /** of each trap */
    trap_surface_C: number[];
    shelf_C: number;
    duct_choked: number;
    /** in the order of run.classes */
    classes: ({
      front_C: number | null;
      hottest_C: number | null;
      /** of the hottest point at this time; null: none holds, or nothing frozen is left */
      limit_C: number | null;
      /** Tg of the dried cake */
      glass_C: number | null;
      /** by key of the substance */
      left_percent: Record<string, number | null>;
    })[];
  })[];
};

export type RunSample = {
  /** the mixture, in all three units */
  composition: RunComponent[];
  first_solid_C: number | null;
  /** one standard deviation, from the pairs' parameters; null where not known */
  first_solid_sigma_K: number | null;
  /** one standard deviation, from the pairs' parameters; null where not known */
  solidus_sigma_K: number | null;
  /** null: liquid never goes */
  solidus_C: number | null;
  /** what is dissolved, as named in the job */
  solutes: ({
    name: string;
    concentration_g_L: number;
    /** collapse, Tg' or eutectic; null: none known */
    critical_C: number | null;
    /** false: known by its critical temperature alone; what it does to freezing is left out */
    in_freezing: boolean;
    /** gases into which it breaks up; null: it does not */
    breaks_up_into: string | null;
    /** their pressure over the dry solid */
    breaks_up_mbar_at_20C: number | null;
  })[];
  solute_critical_C: number | null;
  loaded_at_C: number;
  framework_when_loaded_percent_v_v: number;
  grade: "fitted to cold data" | "fitted to warm data only" | "predicted" | "ideal";
  freezing: ({
    container: string;
    count: number;
    fill_mL: number;
    solid_s: number | null;
    target_C: number;
    target_s: number | null;
    outer_coefficient_W_m2_K: number;
  })[];
  /** the usual cautions for what is in this job, the last of them where to look */
  cautions: string[];
  /** what rests on the user's own figures */
  own_figures: ({
    kind: "substance" | "solute" | "container";
    key: string;
    source: string;
  })[];
};

export type RunComponent = {
  /** key of the substance */
  substance: string;
  /** liquids before mixing, 20 °C */
  percent_v_v: number;
  percent_w_w: number;
  percent_mol: number;
};

export type RunBands = {
  /** of the hottest point where the margin is least; null: not known */
  hottest_sigma_K: number | null;
  /** of the least margin; null: no limit, or another one binds within the band */
  least_margin_sigma_K: number | null;
  /** of the time of primary drying; null: not dry */
  primary_drying_sigma_h: number | null;
  /** best standing met when the thermodynamics is moved by one standard deviation */
  best_standing: "rigid" | "wetted" | "afloat" | "unheld";
  /** worst standing met so */
  worst_standing: "rigid" | "wetted" | "afloat" | "unheld";
};

export type Run = {
  job: string;
  dryer: string;
  standing: "rigid" | "wetted" | "afloat" | "unheld";
  meaning: string;
  cause: "none" | "solidus" | "margin" | "solute" | "never_solid" | "not_frozen" | "framework" | "trap" | "trap_full" | "duct" | "port" | "pump" | "pump_solvent" | "heat" | "glass" | "time";
  because: string;
  purpose: "intermediate" | "screening" | "archive" | "release";
  /** for the purpose */
  acceptable: boolean;
  margin_asked_K: number;
  /** null where the sample was not run */
  bands: null | RunBands;
  /** false: exit status 1 */
  dry: boolean;
  sample: RunSample;
  /** null where the sample was not run (afloat from the start) */
  run: null | RunRun;
  /** what thaws from each trap at the end, and last what was drained on the way */
  waste: ({
    from: "trap" | "first trap" | "second trap" | "drained";
    /** by key of the substance */
    mass_g: Record<string, number>;
    total_g: number;
    /** of the liquids before mixing, 20 °C */
    volume_mL: number;
    /** estimate; null: none found up to 100 °C */
    flash_point_C: number | null;
    /** of EU CLP, by that estimate */
    flammable_liquid: "category 1" | "category 2" | "category 3" | null;
  })[];
  /** taken from the sample alone */
  freezing_heat_kJ: number;
  freezing_coolant: "dry_ice" | "liquid_nitrogen" | null;
  /** lower bound: the heat of the sample over the coolant's latent heat */
  freezing_coolant_at_least_kg: number | null;
};

export type Standing = {
  job: string;
  dryer: string;
  standing: "rigid" | "wetted" | "afloat" | "unheld";
  meaning: string;
  cause: "none" | "solidus" | "margin" | "solute" | "never_solid" | "not_frozen" | "framework" | "trap" | "trap_full" | "duct" | "port" | "pump" | "pump_solvent" | "heat" | "glass" | "time";
  because: string;
  purpose: "intermediate" | "screening" | "archive" | "release";
  /** false: exit status 1 */
  acceptable: boolean;
  margin_asked_K: number;
  /** null where the sample was not run */
  bands: null | RunBands;
  remedies: ({
    lever: "solvent_percent_v_v" | "trap_no_load_C" | "shelf_C" | "shelf_hold_C" | "fill_percent" | "dry_pump" | "coolant_C";
    /** in the unit that the lever names */
    from: number | null;
    to: number | null;
    standing: "rigid" | "wetted" | "afloat" | "unheld";
    drying_h: number | null;
    /** length of the hold, null for other levers */
    hold_h: number | null;
    text: string;
    /** the job with the remedy, as the YAML of a job's file; what is done before the run stands in its first comments. null: a job or dryer cannot say it */
    job: string | null;
    /** the dryer, where that is what changes, in YAML by the name that the job calls it; its file is that name with .yaml. Empty: the dryer stays */
    dryers: Record<string, string>;
  })[];
  sample: RunSample;
  /** null where the sample was not run (afloat from the start) */
  run: null | RunRun;
};

export type StripComponent = {
  /** key of the substance */
  substance: string;
  /** liquids before mixing, 20 °C */
  percent_v_v: number;
  percent_w_w: number;
  percent_mol: number;
};

export type Strip = {
  /** the mixture, in all three units */
  composition: StripComponent[];
  /** what the volumes of % v/v are */
  volumes: string;
  start_g: number;
  start_mL: number;
  task: {
    held: "pressure" | "bath";
    /** held, or the floor; null: none */
    pressure_mbar: number | null;
    /** held, or the most that the flask can reach; null: not stated */
    bath_C: number | null;
    /** the substance with its percentage in one unit, or what is to be left, or dryness */
    until: {
      substance?: string;
      percent_v_v?: number;
      percent_w_w?: number;
      percent_mol?: number;
      left_g?: number;
      left_mL?: number;
      dry_share_of_moles?: number;
    };
  };
  /** one standard deviation of the boiling point at the start, K; 0 where the bath holds the temperature; null: not known */
  start_temperature_sigma_K: number | null;
  /** one standard deviation of ln of the pressure at the start; 0 where it is held */
  start_pressure_relative_sigma: number | null;
  end: {
    /** the target */
    reached: boolean;
    /** limit: of the bath or the floor; empty: dry before */
    stop: "reached" | "azeotrope" | "limit" | "empty";
    sentence: string;
    /** one standard deviation of what is left at the stop; null: not known */
    left_sigma_g: number | null;
    /** the same by volume */
    left_sigma_mL: number | null;
    /** of the temperature at the stop, K */
    temperature_sigma_K: number | null;
    /** of ln of the pressure at the stop */
    pressure_relative_sigma: number | null;
    /** one standard deviation of each fraction of what is left, in the unit of the target or, without one, of the composition */
    flask_sigma: ({
      substance: string;
      /** null: not known */
      sigma_percent: number | null;
    })[];
    /** least of the target's substance on the way, in the target's unit; null: no such target */
    lowest_percent: number | null;
    /** one standard deviation of it; null: not known, or no such target */
    lowest_sigma_percent: number | null;
    lowest_at_percent_of_moles_left: number | null;
    /** the azeotrope at which what is left ends or stays; null: none */
    azeotrope: {
      /** what is left comes back to it; else it only stays because it began there */
      stable: boolean;
      /** two liquids boil together */
      two_liquids: boolean;
      temperature_C: number;
      /** one standard deviation; null: not known */
      temperature_sigma_K: number | null;
      pressure_mbar: number;
      /** from here on the flask is within 0.002 of its mole fractions; null: not that close */
      settled_from_percent_of_moles_left: number | null;
      composition: StripComponent[];
    } | null;
  };
  distillate: {
    g: number;
    mL: number;
    heat_kJ: number;
    /** coldest temperature at which a vapour on the way condenses whole */
    condenser_below_C: number | null;
    /** empty where nothing was boiled off */
    composition: StripComponent[];
  };
  /** of every two components, at the pressure held or that of the end */
  azeotropes: ({
    substances: string[];
    /** of the first of the two */
    first_percent_mol: number;
    /** one standard deviation; null: not known */
    first_sigma_percent_mol: number | null;
    temperature_C: number;
    /** one standard deviation; null: not known */
    temperature_sigma_K: number | null;
    pressure_mbar: number;
    /** two liquids boil together */
    two_liquids: boolean;
    /** maximum: what is left tends to it */
    kind: "minimum" | "maximum";
    /** how the pair's model was obtained */
    pair: "fitted to cold data" | "fitted to warm data only" | "predicted" | "ideal";
  })[];
  /** from the start to the stop; where an azeotrope stops it, on to dryness */
  path: {
    /** of the weight put in */
    left_percent_w_w: number;
    left_g: number;
    left_mL: number;
    taken_g: number;
    taken_mL: number;
    temperature_C: number;
    pressure_mbar: number;
    /** taken up by evaporation since the start */
    heat_kJ: number;
    /** in the flask */
    liquids: number;
    flask: StripComponent[];
    /** what leaves at this moment; a double molecule of an acid counts as two */
    vapour: StripComponent[];
  }[];
  /** somewhere the flask is colder than its first solid */
  freezes_on_the_way: boolean;
  /** how far to trust it, and where it comes from */
  trust: {
    /** the worst of the pairs */
    grade: "fitted to cold data" | "fitted to warm data only" | "predicted" | "ideal";
    pairs: ({
      substances: string[];
      grade: "fitted to cold data" | "fitted to warm data only" | "predicted" | "ideal";
      /** range of the data, null where not stated */
      from_C: number | null;
      to_C: number | null;
      source: string;
    })[];
    substances: ({
      substance: string;
      worst_grade: "measured" | "correlation" | "estimated" | "from memory";
      /** null for a solute */
      vapour_pressure_source: string | null;
      /** the user's own figures */
      own: boolean;
    })[];
  };
  cautions: string[];
};

export type SubstancesBrief = {
  key: string;
  name: string;
  aliases: string[];
  cas: string;
  formula: string;
  family: string;
  molar_mass_g_mol: number;
  /** false: a solute */
  has_vapour: boolean;
  /** null for a solute */
  melting_C: number | null;
  /** at 1013.25 mbar */
  boiling_C: number | null;
  crystallises: "readily" | "reluctantly" | "not in practice";
  worst_grade: "measured" | "correlation" | "estimated" | "from memory";
  /** the user's own figures */
  own: boolean;
  flash_point_C: number | null;
  /** of the pair with water; null for water itself */
  with_water_grade: "fitted to cold data" | "fitted to warm data only" | "predicted" | "ideal" | null;
};

export type SubstancesFull = {
  key: string;
  name: string;
  aliases: string[];
  cas: string;
  formula: string;
  family: string;
  molar_mass_g_mol: number;
  /** false: a solute */
  has_vapour: boolean;
  /** null for a solute */
  melting_C: number | null;
  /** at 1013.25 mbar */
  boiling_C: number | null;
  crystallises: "readily" | "reluctantly" | "not in practice";
  worst_grade: "measured" | "correlation" | "estimated" | "from memory";
  source: string;
  crystallises_source: string;
  critical_C: number | null;
  critical_mbar: number | null;
  fusion_kJ_mol: number | null;
  /** null for what has vapour */
  involatile: {
    /** moles of particles from a mole */
    particles: number;
    gordon_taylor_weight: number | null;
    ice_branch_ends: "glass" | "eutectic";
    ice_branch_ends_C: number;
    ice_branch_ends_percent_w_w: number | null;
    crystal: string | null;
    /** gases into which it breaks up; null: it does not */
    breaks_up_into: string | null;
    /** their pressure over the dry solid */
    breaks_up_mbar_at_20C: number | null;
    note: string;
  } | null;
  transitions: {
    temperature_C: number;
    enthalpy_kJ_mol: number;
  }[];
  glass_C: number | null;
  flash_point_C: number | null;
  lower_explosive_limit_percent_v_v: number | null;
  exposure_limit_8h_ppm: number | null;
  dimer_enthalpy_kJ_mol: number | null;
  dimer_entropy_J_mol_K: number | null;
  dimer_source: string | null;
  table: ({
    temperature_C: number;
    /** null above the melting point */
    crystal_pressure_mbar: number | null;
    liquid_pressure_mbar: number;
    extrapolated: boolean;
    sublimation_kJ_mol: number | null;
    vaporisation_kJ_mol: number;
    liquid_density_kg_m3: number;
    solid_density_kg_m3: number | null;
  })[];
  /** as in data/constants.csv; empty for a substance of the user's own */
  constants: ({
    property: string;
    value: number | null;
    uncertainty: number | null;
    unit: string;
    grade: "measured" | "correlation" | "estimated" | "from memory";
    source: string;
    note: string;
  })[];
  correlations: ({
    property: "vapour_pressure" | "liquid_density" | "solid_density" | "liquid_heat_capacity" | "solid_heat_capacity" | "gas_heat_capacity";
    unit: string;
    grade: "measured" | "correlation" | "estimated" | "from memory";
    from_C: number | null;
    to_C: number | null;
    source: string;
  })[];
  /** null for water itself */
  with_water: {
    grade: "fitted to cold data" | "fitted to warm data only" | "predicted" | "ideal";
    from_C: number | null;
    to_C: number | null;
    source: string;
  } | null;
  caution: string;
  /** the user's own figures */
  own: boolean;
};

export type Substances = {
  /** the list, or with NAME one in full */
  substances: (SubstancesBrief | SubstancesFull)[];
};

export type Sweep = {
  sweep: string;
  runs: number;
  pieces: number;
  pieces_there_before: number;
  standings: {
    rigid: number;
    wetted: number;
    afloat: number;
    unheld: number;
  };
  no_run: number;
  table: string;
};

export type Tune = {
  dryer: string;
  /** YYYY-MM-DD */
  date: string;
  fits: ({
    test: "isolation" | "pump_down" | "trap" | "ice_test" | "product";
    /** false: the log is not what the test's model describes; its constants are not used */
    described: boolean;
    logs: {
      name: string;
      bytes: number;
      rows: number;
      columns_not_understood: string;
      remarks: string[];
    }[];
    points: number;
    unknowns: number;
    /** root mean square over the degrees of freedom */
    residual: number;
    residual_unit: string;
    /** of neighbouring residuals */
    correlation: number;
    constants: ({
      /** of the dryer's file or the job's cake; else what it is */
      field: string;
      /** of value, band and before; a temperature's band is in K */
      unit: string;
      value: number;
      /** one standard deviation; null: not known */
      band: number | null;
      /** null: not known */
      before: number | null;
      at_mbar: number | null;
      at_C: number | null;
      /** whether it goes into the dryer's file */
      in_file: boolean;
    })[];
    remarks: string[];
  })[];
  /** of the product, for its job; null: none was asked for */
  cake: {
    r0_m_s: number;
    a1_per_s: number;
    a2_per_m: number;
  } | null;
  /** path of the file written; null: none */
  written: string | null;
  /** path of the copy of the old file; null: none */
  before: string | null;
  caution: string;
};

export type VapourComponent = {
  /** key of the substance */
  substance: string;
  /** liquids before mixing, 20 °C */
  percent_v_v: number;
  percent_w_w: number;
  percent_mol: number;
};

export type Vapour = {
  /** the mixture, in all three units */
  composition: VapourComponent[];
  /** what the volumes of % v/v are */
  volumes: string;
  asked: "partial_pressures" | "bubble_point";
  solids_mode: "practice" | "equilibrium" | "annealed";
  temperature_C: number;
  /** of a boiling point: one standard deviation, K; null where the temperature was given */
  temperature_sigma_K: number | null;
  /** of all together */
  pressure_mbar: number;
  /** one standard deviation of ln of the pressure */
  pressure_relative_sigma: number | null;
  first_solid_C: number | null;
  /** the boiling point lies below the first solid */
  undercooled: boolean;
  /** the phases that the vapour stands over */
  over: {
    solids: {
      solid: string;
      /** of all */
      percent_w_w: number;
    }[];
    liquids: ({
      state: "liquid" | "glass";
      /** of all */
      percent_w_w: number;
      composition: ({
        substance: string;
        /** of this liquid */
        percent_w_w: number;
        /** one standard deviation; null where it is not known */
        percent_w_w_sigma: number | null;
        /** of this liquid */
        percent_mol: number;
      })[];
    })[];
  };
  vapour: ({
    substance: string;
    /** single and double molecules together */
    partial_pressure_mbar: number;
    /** one standard deviation of ln of the pressure; null for what has none */
    partial_pressure_relative_sigma: number | null;
    monomer_mbar: number;
    dimer_mbar: number;
    /** of the vapour; a double molecule counts twice */
    percent_mol: number;
    percent_w_w: number;
    /** pure liquid = 1 */
    activity: number;
    pure_pressure_mbar: number;
    pure_state: "crystal" | "liquid";
    /** rests on a vapour pressure continued outside the range of its source */
    extrapolated: boolean;
  })[];
  /** salts that leave as gases: not counted in the pressures */
  breaks_up: ({
    substance: string;
    gases: string;
    /** of all gases over the dry solid */
    dry_mbar: number;
    /** of the other gases where ice holds the water's pressure; null: no water among the gases, or too warm for ice */
    without_water_beside_ice_mbar: number | null;
    /** one standard deviation of ln of the pressure */
    relative_sigma: number | null;
  })[];
  /** how far to trust it, and where it comes from */
  trust: {
    /** the worst of the pairs */
    grade: "fitted to cold data" | "fitted to warm data only" | "predicted" | "ideal";
    pairs: ({
      substances: string[];
      grade: "fitted to cold data" | "fitted to warm data only" | "predicted" | "ideal";
      /** range of the data, null where not stated */
      from_C: number | null;
      to_C: number | null;
      source: string;
    })[];
    substances: ({
      substance: string;
      worst_grade: "measured" | "correlation" | "estimated" | "from memory";
      /** null for a solute */
      vapour_pressure_source: string | null;
      /** the user's own figures */
      own: boolean;
    })[];
  };
};
