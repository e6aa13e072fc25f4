"""Made-up shops to plan for: a job shop as it is published, and a drum shop with people, moulds, colours and a drying room."""

from __future__ import annotations

import random

from routing.scheduling.problem import Job, Kit, Problem, StationHours, Task, Window, Worker

DAY = 24 * 60
# station, work, dwell after it, in minutes (planning estimates, common practice, no source)
ROUTE = (
    ("cut", 20, 0),
    ("press", 25, 24 * 60),
    ("trim", 8, 0),
    ("edge", 15, 0),
    ("seal", 12, 120),
    ("sand", 25, 0),
    ("finish", 10, 120),
    ("finish", 10, 120),
    ("finish", 12, 3 * DAY),
    ("drill", 35, 0),
    ("assemble", 35, 0),
    ("final-check", 12, 0),
    ("pack", 15, 0),
)
PLACES = {"sand": 2, "assemble": 2}
SKILLS = {
    "ann": ("cut", "press", "trim", "edge"),
    "ben": ("cut", "press", "edge"),
    "cid": ("trim", "edge", "drill"),
    "dot": ("seal", "sand", "finish"),
    "eve": ("seal", "sand", "finish"),
    "fay": ("sand", "drill", "assemble"),
    "gus": ("assemble", "pack"),
    "hal": ("final-check", "pack", "assemble"),
}


def working_days(days: int) -> tuple[Window, ...]:
    """Monday to Friday, 8:00 to 12:00 and 12:30 to 16:30, from a Monday at midnight."""
    return tuple(
        window
        for day in range(days)
        if day % 7 < 5
        for window in ((day * DAY + 480, day * DAY + 720), (day * DAY + 750, day * DAY + 990))
    )


def drum_shop(shells: int, *, seed: int = 1, days: int = 120) -> Problem:
    """Kits of five in three colours and five diameters, due from the third week on."""
    draw = random.Random(seed)
    hours = working_days(days)
    kits, jobs, key = [], [], 0
    for number in range(-(-shells // 5)):
        colour = draw.choice(["amber", "black", "clear"])
        kits.append(
            Kit(f"K{number}", (14 + draw.randrange(max(7, shells // 8))) * DAY + 990, draw.choice([1, 1, 1, 3]))
        )
        for drum in range(min(5, shells - 5 * number)):
            diameter = draw.choice(["10", "12", "14", "16", "22"])
            tasks = []
            for station, work, dwell in ROUTE:
                pressed = station == "press"
                tasks.append(
                    Task(
                        key,
                        station,
                        work + draw.randrange(5),
                        dwell,
                        mould=diameter if pressed else "",
                        mould_min=240 if pressed else 0,
                        campaign=colour if station == "finish" else "",
                        room="drying" if station in ("seal", "finish") else "",
                    )
                )
                key += 1
            jobs.append(Job(f"S{number}-{drum}", f"K{number}", tuple(tasks)))
    return Problem(
        horizon_min=days * DAY,
        kits=tuple(kits),
        jobs=tuple(jobs),
        stations=tuple(
            StationHours(code, PLACES.get(code, 1), 30 if code == "finish" else 0, hours)
            for code in dict.fromkeys(station for station, _, _ in ROUTE)
        ),
        workers=tuple(Worker(name, frozenset(skills), hours) for name, skills in SKILLS.items()),
        moulds=dict.fromkeys(["10", "12", "14", "16", "22"], 1),
        rooms={"drying": 40},
    )


def job_shop(text: str, horizon: int = 2000) -> Problem:
    """Rows are jobs, pairs “machine duration”; one kit due at once, so that its lateness is the makespan."""
    jobs, key = [], 0
    for number, line in enumerate(text.strip().splitlines()):
        row = [int(word) for word in line.split()]
        tasks = []
        for machine, duration in zip(row[::2], row[1::2], strict=True):
            tasks.append(Task(key, f"m{machine}", duration))
            key += 1
        jobs.append(Job(f"j{number}", "all", tuple(tasks)))
    machines = sorted({task.station for job in jobs for task in job.tasks})
    return Problem(
        horizon_min=horizon,
        kits=(Kit("all", 0),),
        jobs=tuple(jobs),
        stations=tuple(StationHours(machine, 1, 0, ((0, horizon),)) for machine in machines),
    )
