"""The pages. Call `prepare()` before anything else here is touched: it decides how a notebook loads its scripts."""

import lazy_loader

__getattr__, __dir__, __all__ = lazy_loader.attach(
    __name__,
    submod_attrs={
        "appraise": ["appraise_page"],
        "host": ["prepare"],
        "overview": ["overview_page"],
        "review": ["review_page"],
        "server": ["serve"],
        "sources": ["sources_page"],
        "start": ["start_page"],
        "trust": ["trust_page"],
        "tuning": ["tuning_page"],
        "water": ["water_page"],
    },
)
